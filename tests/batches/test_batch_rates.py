"""What a batch cost where the price list, or a lot, is in another currency."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from formula_vcs.batches.batch_cost import BatchCost, batch_cost
from formula_vcs.model.batch import Batch
from formula_vcs.model.lot import Lot
from formula_vcs.toml.batch_file import read_batch
from formula_vcs.toml.record_files import read_lot
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
RATES = (
    '[[rate]]\nof = "USD"\nis = "0.8 EUR"\nday = 2026-05-04\n[[rate]]\nof = "USD"\nis = "0.5 EUR"\nday = 2026-05-06\n'
)
MADE = (
    'recipe = "cream"\nsize = "100 kg"\ndate = 2026-05-05\nmade = "100 kg"\n[phase.A.charge]\n'
    'water = { target = "95 kg", weighed = "95 kg" }\n'
    'glycerin = { target = "5 kg", weighed = "5 kg", lots = [{ lot = "g-1", weighed = "5 kg" }] }\n'
)


def cost(rates: str, lot: str, workspace: MakeWorkspace) -> BatchCost:
    """Cost a batch of 95 kg of water at 0.01 EUR/kg and 5 kg of glycerin at 2.00 USD/kg, a lot of which was paid."""
    snapshot = workspace({
        "workspace.toml": f'title = "Shed"\ncurrency = "EUR"\n{rates}',
        "ingredients/glycerin.toml": 'title = "G"\n[substances]\n"Glycerin" = 100\n[[price]]\ncost = "2.00 USD/kg"\n',
    })  # fmt: skip
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    batch = Batch("c-1", read_batch(parse(MADE.encode()).data), "batches/c-1.toml")
    paid = Lot("g-1", read_lot(parse(f'ingredient = "glycerin"\nprice = "{lot}"\n'.encode()).data), "lots/g-1.toml")
    return batch_cost(batch, snapshot.formula(recipe), {"g-1": paid}.get, lambda _: None)


def test_list_and_lot_are_converted_at_the_rate_of_the_day_of_the_batch(workspace: MakeWorkspace) -> None:
    found = cost(RATES, "3.00 USD/kg", workspace)

    assert ((), ("converted at 1 USD = 0.8 EUR, rate of 2026-05-04",)) == (found.missing, found.remarks)
    assert Fraction("0.0095") + Fraction("0.05") * 2 * Fraction("0.8") == found.standard
    assert Fraction("0.0095") + Fraction("0.05") * 3 * Fraction("0.8") == found.actual


def test_without_a_rate_a_list_price_is_missing_and_a_lot_is_taken_at_the_list(workspace: MakeWorkspace) -> None:
    bare = cost("", "3.00 EUR/kg", workspace)
    pound = cost(RATES, "3.00 GBP/kg", workspace)

    assert ("A/glycerin: priced in USD, and workspace.toml has no [[rate]] of USD in EUR",) == bare.missing
    (_, glycerin) = pound.charges
    assert "standard (lot 'g-1' is priced in GBP, and workspace.toml has no [[rate]] of GBP in EUR)" == glycerin.basis
