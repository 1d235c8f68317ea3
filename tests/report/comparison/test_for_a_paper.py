"""The paragraph for a paper says the comparison's own numbers, and no more than is known."""

from __future__ import annotations

from dataclasses import replace

from tests.report.machines import three
from thrustlapse.report.comparison.for_a_paper import citation, methods_paragraph
from thrustlapse.report.number_format import number


def test_every_candidate_stands_with_its_thrust_at_rest_and_its_top_speed() -> None:
    text = methods_paragraph(three())
    for name, result in three().candidates.items():
        assert f"{name} {number(result.at_rest.installed_thrust.item())} N" in text
        if result.at_top is not None and result.level is not None:
            assert f"{name} {number(result.level.top_speed)} m/s" in text
    assert three().version in text


def test_without_draws_the_paragraph_says_that_nothing_is_known_of_how_sure() -> None:
    text = methods_paragraph(replace(three(), uncertainty=None))
    assert "nothing is said of how sure" in text
    assert "[" not in text


def test_an_invented_scenario_is_called_so_and_the_digest_is_whole_in_the_citation() -> None:
    assert "an invented scenario" in methods_paragraph(replace(three(), invented=True))
    assert "invented" not in methods_paragraph(replace(three(), invented=False))
    assert three().scenario_digest in citation(three())
