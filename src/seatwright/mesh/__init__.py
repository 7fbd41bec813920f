"""Surfaces as arrays, closest points, registration. Knows nothing of teeth or files."""

from typing import TYPE_CHECKING

from seatwright.late import open_late

if TYPE_CHECKING:
    from seatwright.mesh._bodies import Bodies, find_bodies, measure_look, turn_outwards
    from seatwright.mesh._closest import (
        ClosestPoints,
        SurfaceIndex,
        find_closest,
        find_closest_faces,
        find_closest_naively,
        index_surface,
        measure_signed_distance,
    )
    from seatwright.mesh._coarse import CoarsePlan, CoarsePose, search_poses
    from seatwright.mesh._column_bodies import find_buried
    from seatwright.mesh._column_gaps import GapGrid, find_gap_ends, find_gaps
    from seatwright.mesh._columns import ColumnModel, Reach, ReachWord, build_columns, find_heights, measure_reach
    from seatwright.mesh._cone_cover import find_rises, find_touch_points, hang_cones
    from seatwright.mesh._cut import keep_below_zero
    from seatwright.mesh._fine import (
        BodyFit,
        Schedule,
        estimate_scale_mm,
        fit_bodies,
        pose_of,
        rest_poses,
        transform_of,
    )
    from seatwright.mesh._kernels import KERNEL_LOCK, find_bounds, is_in_boxes
    from seatwright.mesh._level_lines import LevelLine, measure_area_above_mm2, trace_level
    from seatwright.mesh._match import BodyPoints, Equations, Poses, match_points, step_poses, weigh_tukey
    from seatwright.mesh._offset import offset_surface
    from seatwright.mesh._plan_solid import raise_solid
    from seatwright.mesh._sampling import choose_vertices, choose_voxel_points, draw_face_points
    from seatwright.mesh._skirt import (
        estimate_enclosed_volume_mm3,
        find_open_direction,
        has_base,
        measure_plan_area_mm2,
        measure_volume_on_base_mm3,
    )
    from seatwright.mesh._surface import (
        IndexArray,
        Surface,
        measure_area_mm2,
        measure_centroid_mm,
        measure_face_areas_mm2,
        measure_face_normals,
        measure_vertex_normals,
        move_surface,
    )
    from seatwright.mesh._sweep import GapSweep, VoidSweep, coarsen_surface, crop_surface, sweep_gaps, sweep_voids
    from seatwright.mesh._topology import (
        find_border_edges,
        find_components,
        find_rim_faces,
        is_closed,
        join_vertices,
        keep_faces,
        merge_vertices,
    )
    from seatwright.mesh._volume import measure_volume_mm3
    from seatwright.mesh._withdraw import (
        Block,
        Withdrawal,
        find_block,
        find_block_naively,
        follow_block,
        map_blocks,
        prepare_withdrawal,
    )
else:
    __getattr__ = open_late(__name__, __file__)

__all__ = [
    "KERNEL_LOCK",
    "Block",
    "Bodies",
    "BodyFit",
    "BodyPoints",
    "ClosestPoints",
    "CoarsePlan",
    "CoarsePose",
    "ColumnModel",
    "Equations",
    "GapGrid",
    "GapSweep",
    "IndexArray",
    "LevelLine",
    "Poses",
    "Reach",
    "ReachWord",
    "Schedule",
    "Surface",
    "SurfaceIndex",
    "VoidSweep",
    "Withdrawal",
    "build_columns",
    "choose_vertices",
    "choose_voxel_points",
    "coarsen_surface",
    "crop_surface",
    "draw_face_points",
    "estimate_enclosed_volume_mm3",
    "estimate_scale_mm",
    "find_block",
    "find_block_naively",
    "find_bodies",
    "find_border_edges",
    "find_bounds",
    "find_buried",
    "find_closest",
    "find_closest_faces",
    "find_closest_naively",
    "find_components",
    "find_gap_ends",
    "find_gaps",
    "find_heights",
    "find_open_direction",
    "find_rim_faces",
    "find_rises",
    "find_touch_points",
    "fit_bodies",
    "follow_block",
    "hang_cones",
    "has_base",
    "index_surface",
    "is_closed",
    "is_in_boxes",
    "join_vertices",
    "keep_below_zero",
    "keep_faces",
    "map_blocks",
    "match_points",
    "measure_area_above_mm2",
    "measure_area_mm2",
    "measure_centroid_mm",
    "measure_face_areas_mm2",
    "measure_face_normals",
    "measure_look",
    "measure_plan_area_mm2",
    "measure_reach",
    "measure_signed_distance",
    "measure_vertex_normals",
    "measure_volume_mm3",
    "measure_volume_on_base_mm3",
    "merge_vertices",
    "move_surface",
    "offset_surface",
    "pose_of",
    "prepare_withdrawal",
    "raise_solid",
    "rest_poses",
    "search_poses",
    "step_poses",
    "sweep_gaps",
    "sweep_voids",
    "trace_level",
    "transform_of",
    "turn_outwards",
    "weigh_tukey",
]
