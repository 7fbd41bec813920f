import pytest

from seatwright import errors

LEAVES = [
    (errors.InputError, "input", 2),
    (errors.CaseError, "case", 2),
    (errors.MeshError, "mesh", 2),
    (errors.ValueOutOfRange, "range", 2),
    (errors.UnknownCase, "unknown", 2),
    (errors.AccessError, "access", 2),
    (errors.CannotCompute, "undefined", 3),
    (errors.RecordError, "record", 4),
    (errors.ConflictError, "conflict", 5),
    (errors.Cancelled, "cancelled", 130),
]


@pytest.mark.parametrize(("kind", "code", "exit_code"), LEAVES)
def test_error_class_has_its_code_and_exit(kind: type[errors.SeatwrightError], code: str, exit_code: int) -> None:
    assert (kind.code, kind.exit_code) == (code, exit_code)
    assert issubclass(kind, errors.SeatwrightError)


def test_error_tree_in_the_docstring_names_every_class() -> None:
    drawn = errors.__doc__ or ""
    assert all(kind.__name__ in drawn for kind, _, _ in LEAVES)
    assert {name for name in errors.__all__ if name != "Fault"} == {k.__name__ for k, _, _ in LEAVES} | {
        "SeatwrightError"
    }
