"""Words in notes that tell of something done otherwise. The notes are invented."""

from __future__ import annotations

import pytest

from trials.words.deviations import DEVIATIONS, deviations_in


@pytest.mark.parametrize(
    ("note", "kinds"),
    [
        ("soaked 20 min too long", ["longer or shorter"]),
        ("heated again", ["again"]),
        ("we fired it twice, sorry", ["again"]),
        ("leaked a bit", ["leaked or spilled"]),
        ("dropped it on the floor", ["dropped"]),
        ("spilled half of the dye", ["leaked or spilled"]),
        ("electrolyte dried out", ["dried"]),
        ("slide cracked at one corner", ["cracked or scratched"]),
        ("re-filled after lunch", ["refilled"]),
        ("different dye, bottle 2", ["other material"]),
        ("forgot to rinse", ["forgotten"]),
        ("zu lange im Farbstoff", ["longer or shorter"]),
        ("nochmal erhitzt", ["again"]),
        ("ausgelaufen!", ["leaked or spilled"]),
        ("ist runtergefallen", ["dropped"]),
        ("Elektrolyt verschüttet", ["leaked or spilled"]),
        ("ausgetrocknet", ["dried"]),
        ("Glas gesprungen", ["cracked or scratched"]),
        ("nachgefüllt", ["refilled"]),
        ("falsche Farbe genommen", ["other material"]),
        ("Spülen vergessen", ["forgotten"]),
        ("trempé trop longtemps", ["longer or shorter"]),
        ("chauffé deux fois", ["again"]),
        ("fuite sur le côté", ["leaked or spilled"]),
        ("tombée par terre", ["dropped"]),
        ("électrolyte renversé", ["leaked or spilled"]),
        ("a séché", ["dried"]),
        ("verre fissuré", ["cracked or scratched"]),
        ("remplie après", ["refilled"]),
        ("autre colorant", ["other material"]),
        ("oublié de rincer", ["forgotten"]),
        ("did not leak", []),
        ("it didn't crack", []),
        ("nicht ausgelaufen", []),
        ("nichts verschüttet", []),
        ("pas de fuite", []),
        ("sans fissure", []),
        ("never heated again", []),
        ("read by team alder", []),
        ("sunny, window side", []),
        ("lamp warm", []),
        ("gemessen von Gruppe 2", []),
        ("mesuré après le cours", []),
        ("first reading after 5 min", []),
        ("small bubble at the edge", []),
        ("dark spot", []),
        ("=SUM(A1:A3)", []),
        ("", []),
    ],
)
def test_notes_in_three_languages(note: str, kinds: list[str]) -> None:
    assert [one.kind for one in deviations_in(note)] == kinds


def test_kinds_have_names_of_their_own() -> None:
    assert len({one.kind for one in DEVIATIONS}) == len(DEVIATIONS)
