"""First in, first out by cumulative ranges, as general-purpose tools for data do it: pandas and DuckDB.

Both lay an item's lots end to end along an axis of quantity, and its issues along the same axis. The
cost of all that left up to a place on it is that of the lots before the place, and of the lot at the
place R(c x used / q) by the program's rounding rule, R rounding half away from zero. An issue costs the
difference between its end and the end of the issue before it. Every sum is in whole minor units, so
each issue, not only the total, agrees with the program's without a rounding difference.

What they do not do: name the lots an issue took from, tell which line finds too little, or know goods
that come back. Lots are those of receipts only, of which nothing was expensed at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ledger.costing.replay import Movements, Takings

if TYPE_CHECKING:
    import duckdb
    import numpy as np
    import pandas as pd

NOT_INSTALLED = "not installed"


def movement_frame(movements: Movements) -> pd.DataFrame:
    """Return the movements as a data frame: place, sku, arrives, quantity in thousandths, amount."""
    import pandas as pd  # noqa: PLC0415  (slow, and imported before anything is timed)

    return pd.DataFrame(
        {
            "place": range(len(movements)),
            "sku": movements.sku,
            "arrives": movements.arrives,
            "quantity": movements.quantity,
            "amount": movements.amount,
        }
    )


def costs_by_pandas(frame: pd.DataFrame) -> np.ndarray:
    """Return what every issue costs in minor units, in the order of the movements, by `merge_asof`."""
    import pandas as pd  # noqa: PLC0415

    lots = frame[frame["arrives"]]
    by_sku = lots.groupby("sku", sort=False)
    lots = lots.assign(
        begins=by_sku["quantity"].cumsum() - lots["quantity"],
        cost_before=by_sku["amount"].cumsum() - lots["amount"],
    )
    issues = frame.loc[~frame["arrives"], ["place", "sku", "quantity"]]
    issues = issues.assign(used=issues.groupby("sku", sort=False)["quantity"].cumsum())
    # An issue that ends where a lot ends belongs to that lot, not to the next one, which begins there.
    met = pd.merge_asof(
        issues[["place", "sku", "used"]].sort_values("used", kind="stable"),
        lots[["sku", "begins", "quantity", "amount", "cost_before"]].sort_values("begins", kind="stable"),
        left_on="used",
        right_on="begins",
        by="sku",
        allow_exact_matches=False,
    )
    of_lot = 2 * met["amount"] * (met["used"] - met["begins"]) + met["quantity"]
    met["cost"] = met["cost_before"] + of_lot // (2 * met["quantity"])
    met["cost"] -= met.groupby("sku", sort=False)["cost"].shift(fill_value=0)
    return met.sort_values("place")["cost"].to_numpy()


DUCKDB_COSTS = """
WITH lots AS (
    SELECT sku, quantity, amount,
        sum(quantity) OVER earlier - quantity AS begins,
        sum(amount) OVER earlier - amount AS cost_before
    FROM movements WHERE arrives
    WINDOW earlier AS (PARTITION BY sku ORDER BY place ROWS UNBOUNDED PRECEDING)
), issues AS (
    SELECT place, sku, sum(quantity) OVER (PARTITION BY sku ORDER BY place ROWS UNBOUNDED PRECEDING) AS used
    FROM movements WHERE NOT arrives
), met AS (
    SELECT place, issues.sku, cost_before
        + (2 * amount::BIGINT * (used - begins)::BIGINT + quantity) // (2 * quantity) AS cost
    FROM issues ASOF JOIN lots ON issues.sku = lots.sku AND issues.used > lots.begins
)
SELECT (cost - lag(cost, 1, 0) OVER (PARTITION BY sku ORDER BY place))::BIGINT AS cost
FROM met ORDER BY place
"""


def duckdb_with(frame: pd.DataFrame) -> duckdb.DuckDBPyConnection:
    """Return a DuckDB in memory, on one thread, whose table holds the movements.

    Raises ImportError where DuckDB is not installed: it is in the extra `benchmarks`.
    """
    import duckdb  # noqa: PLC0415  (only here, and not everywhere installed)

    connection = duckdb.connect()
    connection.execute("SET threads = 1")
    connection.register("given", frame)
    connection.execute("CREATE TABLE movements AS SELECT * FROM given")
    connection.unregister("given")
    return connection


def costs_by_duckdb(connection: duckdb.DuckDBPyConnection) -> np.ndarray:
    """Return what every issue costs in minor units, in the order of the movements, by window functions."""
    return connection.execute(DUCKDB_COSTS).fetchnumpy()["cost"]


def costs_of(takings: Takings) -> np.ndarray:
    """Return what every issue cost by the program's takings: those of one issue added up."""
    import numpy as np  # noqa: PLC0415

    movement, amount = np.asarray(takings.movement), np.asarray(takings.amount)
    firsts = np.flatnonzero(np.diff(movement, prepend=-1))
    return np.add.reduceat(amount, firsts)
