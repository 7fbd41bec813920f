"""Adapters to files: case folders, surface files, whole folders written at once. Guards come before any library."""

from typing import TYPE_CHECKING

from seatwright.late import open_late

if TYPE_CHECKING:
    from seatwright.files._caliper_csv import CALIPER_COLUMNS, CaliperSheetFile, caliper_template, parse_caliper_csv
    from seatwright.files._index_csv import INDEX_COLUMNS, IndexSheetFile, index_template, parse_index_csv
    from seatwright.files._mesh_bytes import encode_glb, encode_ply, encode_stl
    from seatwright.files._own_figures import read_own_figures
    from seatwright.files._unit_regions import read_unit_regions
    from seatwright.files._whole_file import write_file_whole
    from seatwright.files.arrivals import SURFACE_SUFFIXES, check_arrival_name, read_arrival
    from seatwright.files.case_folder import FolderCaseFiles, FolderCaseSource, describe_file
    from seatwright.files.case_source import FilesCaseSource
    from seatwright.files.documents import bench_to_toml, case_to_toml, events_to_jsonl, read_bench, read_case, read_log
    from seatwright.files.event_log import FolderEventLog
    from seatwright.files.folder_store import MANIFEST_NAME, FolderFiles, read_manifest
    from seatwright.files.meshes import (
        LENGTH_UNITS_MM,
        check_arch_extent,
        fitting_units,
        parse_surface,
        read_surface,
    )
    from seatwright.files.photos import read_photo
    from seatwright.files.solids import SOLID_KINDS, encode_solids, join_surfaces
else:
    __getattr__ = open_late(__name__, __file__)

__all__ = [
    "CALIPER_COLUMNS",
    "INDEX_COLUMNS",
    "LENGTH_UNITS_MM",
    "MANIFEST_NAME",
    "SOLID_KINDS",
    "SURFACE_SUFFIXES",
    "CaliperSheetFile",
    "FilesCaseSource",
    "FolderCaseFiles",
    "FolderCaseSource",
    "FolderEventLog",
    "FolderFiles",
    "IndexSheetFile",
    "bench_to_toml",
    "caliper_template",
    "case_to_toml",
    "check_arch_extent",
    "check_arrival_name",
    "describe_file",
    "encode_glb",
    "encode_ply",
    "encode_solids",
    "encode_stl",
    "events_to_jsonl",
    "fitting_units",
    "index_template",
    "join_surfaces",
    "parse_caliper_csv",
    "parse_index_csv",
    "parse_surface",
    "read_arrival",
    "read_bench",
    "read_case",
    "read_log",
    "read_manifest",
    "read_own_figures",
    "read_photo",
    "read_surface",
    "read_unit_regions",
    "write_file_whole",
]
