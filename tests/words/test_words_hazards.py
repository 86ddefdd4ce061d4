"""What tells of a flame or of something that catches fire, and what only looks like it.

The sentences are our own. The codes of the usual cautions: UN GHS (ST/SG/AC.10/30), annex 3:
H225 is "Highly flammable liquid and vapour", for a flash point below 23 °C; that of ethanol is
about 13 °C, that of acetone about -20 °C (from memory).
"""

from __future__ import annotations

import pytest

from trials.words.cautions import code_words
from trials.words.hazards import KINDS, Kind, cautioned, named, usual

HARMLESS = """
Nothing is rinsed with alcohol
Nothing here is rinsed with alcohol, and no flame is lit.
Nobody lights a candle.
Use alcohol-free wipes.
Put it on the flame-proof mat.
Wear a flame-resistant coat; flame retardant cloth.
No open flame, no candles or burners.
Work without alcohol or acetone.
No alcohol, acetone or ether is used.
Use water instead of alcohol.
Use a hot plate rather than the burner.
Neither alcohol nor acetone is needed.
Don't use alcohol.
It is never rinsed with alcohol.
Alcohol isn't used.
Keep away from open flames.
Read the alcohol thermometer.
Use the spirit level; the class is in good spirits.
A glue of polyvinyl alcohol.
Write down the code that matches.
It is lighter than water.
Heat it on the electric burner.
The ethernet cable of the iPad, together or not.
A drink that is non-alcoholic.
Sin alcohol ni acetona.
No se usa alcohol.
No hay ninguna llama.
La pasta se llama engrudo.
Nada se lava con alcohol.
Se enjuaga con agua en vez de alcohol.
Mantener lejos de llamas.
The burner is not lit.
Pour 5 mL of water, without any alcohol, on it.
A solvent-free glue; hang it on the fire door.
The paste gets thinner.
Use alcohol-free wipes before lunch.
"""
NAMED = {
    "Pour 5 mL of alcohol (ethanol) on 5 g of spinach.": {"flammable": "alcohol"},
    "Heat 5 mL of water on the burner.": {"flame": "burner"},
    "Don't spill the alcohol.": {"flammable": "alcohol"},
    "Do not drink alcohol.": {"flammable": "alcohol"},
    "Never leave the burner alone.": {"flame": "burner"},
    "No flame near the alcohol.": {"flammable": "alcohol"},
    "With no lid, alcohol evaporates.": {"flammable": "alcohol"},
    "No water but alcohol.": {"flammable": "alcohol"},
    "Do not use alcohol near the candle.": {"flame": "candle", "flammable": "alcohol"},
    "Work without gloves over a Bunsen burner.": {"flame": "Bunsen burner"},
    "Heat it over a spirit lamp.": {"flame": "spirit lamp"},
    "Rinse with 2-propanol, then acetone.": {"flammable": "2-propanol"},
    "An ethanolic solution.": {"flammable": "ethanolic"},
    "Wipe with methylated spirits.": {"flammable": "methylated spirits"},
    "Light a match.": {"flame": "Light a match"},
    "Lavar con alcohol de 96.": {"flammable": "alcohol"},
    "Se enjuaga con acetona.": {"flammable": "acetona"},
    "No dejes el alcohol abierto.": {"flammable": "alcohol"},
    "Calentar en el mechero.": {"flame": "mechero"},
    "Poner sobre la llama.": {"flame": "sobre la llama"},
    "Encender la vela.": {"flame": "vela"},
    "Pour no more ethanol than you need": {"flammable": "ethanol"},
    "The burner is not lit until the glass is dry": {"flame": "burner"},
    "The burner is not lit yet.": {"flame": "burner"},
    "The alcohol is not used until lesson 2, then pour 5 mL": {"flammable": "alcohol"},
    "Nothing is heated over a burner unless goggles are on": {"flame": "burner"},
    "Don't let the glass stand without ethanol": {"flammable": "ethanol"},
    "Without ethanol, the paste cracks.": {"flammable": "ethanol"},
    "Do not use water instead of alcohol.": {"flammable": "alcohol"},
    "Never use alcohol with bare hands": {"flammable": "alcohol"},
    "Do not add ethanol too fast": {"flammable": "ethanol"},
    "Heat with no lid, ethanol.": {"flammable": "ethanol"},
    "Never use ethanol, or do it with gloves.": {"flammable": "ethanol"},
    "No ethanol is used more than once.": {"flammable": "ethanol"},
    "Spill no alcohol.": {"flammable": "alcohol"},
    "Make sure that no ethanol drips on it.": {"flammable": "ethanol"},
    "Keep the burner free of paper.": {"flame": "burner"},
    "Stand 2 m away from the burner.": {"flame": "burner"},
    "No uses alcohol sin guantes": {"flammable": "alcohol"},
    "El mechero no se enciende hasta que esté seco": {"flame": "mechero"},
    "Light it with matches.": {"flame": "with matches"},
    "Use a lighter.": {"flame": "Use a lighter"},
    "lighter": {"flame": "lighter"},
    "matches": {"flame": "matches"},
    "Hold it over the fire.": {"flame": "over the fire"},
    "Rinse with EtOH.": {"flammable": "EtOH"},
    "Clean it with paint thinner.": {"flammable": "paint thinner"},
    "Wipe with a solvent.": {"flammable": "solvent"},
    "Heat it with a butane torch.": {"flame": "butane torch"},
    "Heat it with the propane torch.": {"flame": "propane torch"},
}


@pytest.mark.parametrize("text", HARMLESS.strip().splitlines())
def test_what_is_denied_or_looks_alike_is_not_there(text: str) -> None:
    assert named(text) == {}


@pytest.mark.parametrize("text", NAMED)
def test_what_is_named_is_there(text: str) -> None:
    assert named(text) == NAMED[text]


def test_usual_cautions_have_codes_with_words_and_both_languages() -> None:
    for kind in KINDS:
        for language in ("en", "es"):
            one = usual(kind, language)
            assert one.text
            assert all(code_words(code) for code in (*one.ghs, *one.iso7010))
    assert code_words("H225") == "Highly flammable liquid and vapour"


@pytest.mark.parametrize(
    ("kind", "text", "codes", "there"),
    [
        ("flammable", "Ethanol dries the skin: wear gloves.", [], False),
        ("flammable", "Ethanol dries the skin: wear gloves.", ["GHS02"], True),
        ("flammable", "Ethanol dries the skin: wear gloves.", ["W021"], True),
        ("flammable", "Ethanol dries the skin: wear gloves.", ["GHS07"], False),
        ("flammable", "Ethanol catches fire: windows open.", [], True),
        ("flammable", "Ethanol is highly flammable.", [], True),
        ("flammable", "El etanol es inflamable.", [], True),
        ("flammable", "Wear goggles near the fire.", [], False),
        ("flame", "Never leave the burner alone.", [], True),
        ("flame", "Keep the ethanol away from any flame.", [], False),
    ],
)
def test_a_caution_counts_only_for_the_fire_it_tells_of(
    kind: Kind, text: str, codes: list[str], there: bool
) -> None:
    assert cautioned(kind, text, codes) == there


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_usual_caution_of_one_kind_is_none_of_the_other(language: str) -> None:
    for kind in KINDS:
        one = usual(kind, language)
        told = [k for k in KINDS if cautioned(k, one.text, (*one.ghs, *one.iso7010))]
        assert told == [kind]
