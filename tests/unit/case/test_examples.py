from tests.examples import DEMO_NOW, demo_bench, demo_case, demo_events, twin_axes_case


def test_example_case_is_complete_and_fresh_each_time() -> None:
    case = demo_case()
    assert case == demo_case()
    assert len(case.unit) == 8
    assert case.code != twin_axes_case().code
    assert demo_bench().person
    assert demo_events()[-1].at < DEMO_NOW


def test_bar_and_joins_make_one_rigid_body() -> None:
    case = demo_case()
    assert set(case.body_of(34)) == set(case.body_of(43)) == {33, 34, 35, 42, 43}
    assert case.body_of(44) == (44,)
