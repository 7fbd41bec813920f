"""What the lists show of one case: its impressions and its lots, written and read as one value."""

from sqlalchemy import Connection, delete, insert, select

from seatwright.case import CaseStage, CaseStanding, ImpressionPlace, ImpressionStanding, LotUse
from seatwright.record._moments import read_moment, write_moment
from seatwright.record._tables import impression_standing, lot_use, stored_case

__all__ = ["read_standing", "read_units", "write_standing"]


def write_standing(connection: Connection, code: str, standing: CaseStanding) -> None:
    """Put a case's rows in place of those before."""
    connection.execute(delete(impression_standing).where(impression_standing.c.case_code == code))
    connection.execute(delete(lot_use).where(lot_use.c.case_code == code))
    impressions = [
        {
            "case_code": code,
            "impression": i.impression,
            "phase": i.place.value,
            "material": i.material,
            "storage": i.storage,
            "out_at": write_moment(i.out_at) if i.out_at else "",
            "poured_at": write_moment(i.poured_at) if i.poured_at else "",
            "separated_at": write_moment(i.separated_at) if i.separated_at else "",
        }
        for i in standing.impressions
    ]
    lots = [
        {
            "case_code": code,
            "case_seq": use.seq,
            "lot": use.lot,
            "material": use.material,
            "used_for": use.used_for,
            "impression": use.impression,
            "units": ",".join(map(str, use.units)),
            "at": write_moment(use.at),
            "by": use.by,
        }
        for use in standing.lots
    ]
    if impressions:
        connection.execute(insert(impression_standing), impressions)
    if lots:
        connection.execute(insert(lot_use), lots)


def read_standing(connection: Connection, code: str) -> CaseStanding:
    """Return what `write_standing` wrote, in the order of impressions' names and events' numbers."""
    stage = connection.execute(select(stored_case.c.stage).where(stored_case.c.code == code)).scalar_one()
    table = impression_standing.c
    impressions = connection.execute(
        select(impression_standing).where(table.case_code == code).order_by(table.impression)
    )
    lots = connection.execute(select(lot_use).where(lot_use.c.case_code == code).order_by(lot_use.c.case_seq))
    return CaseStanding(
        CaseStage(stage),
        tuple(
            ImpressionStanding(
                impression=row.impression,
                place=ImpressionPlace(row.phase),
                material=row.material,
                storage=row.storage,
                out_at=read_moment(row.out_at) if row.out_at else None,
                poured_at=read_moment(row.poured_at) if row.poured_at else None,
                separated_at=read_moment(row.separated_at) if row.separated_at else None,
            )
            for row in impressions
        ),
        tuple(
            LotUse(
                row.case_seq, read_moment(row.at), row.by, row.material, row.lot, row.used_for, row.impression,
                read_units(row.units),
            )
            for row in lots
        ),
    )  # fmt: skip


def read_units(text: str) -> tuple[int, ...]:
    """Return the tooth numbers that a row of `lot_use` holds."""
    return tuple(int(unit) for unit in text.split(",") if unit)
