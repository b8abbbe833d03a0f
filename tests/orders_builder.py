"""Orders, shipments and arrivals in a test's book, in few words."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from book_builder import NOW, TODAY, Book, charge, day, line

from ledger.book.arrival_parts import ArrivalWishes, ArriveWish, ExtraWish, LossWish
from ledger.book.arriving import ArrivalRequest, PostedArrival, RateUsed, arrive
from ledger.book.catalogue_store import find_items
from ledger.book.order_store import find_order
from ledger.book.ordering import OrderRequest, OrderTerms, post_order, prepare_order
from ledger.book.orders import Order
from ledger.book.ship_parts import ShipWish
from ledger.book.shipping import PostedShipment, ShipRequest, ship
from ledger.costing.landed import ChargeWish

MILL = "Mill Lane"
SAND, PLUM = "TEE-SAND-M", "TEE-PLUM-L"
YUAN_RATE = "0.14"


def milli(amount: int | str) -> int:
    """Return an amount of base units in thousandths."""
    return int(Fraction(amount) * 1000)


def rate_of(currency: str) -> RateUsed:
    """Return fourteen cents for a yuan, and one for the book's own dollars."""
    return RateUsed(YUAN_RATE, "as given") if currency != "USD" else RateUsed("1", "")


def loss(sku: str, pieces: int, treatment: str = "claimed", *, missing: bool = True) -> LossWish:
    """Return pieces that are missing, or came damaged."""
    return LossWish(sku=sku, quantity_milli=milli(pieces), treatment=treatment, is_missing=missing)


@dataclass
class Buyer:
    """A shop that orders: 100 sand tees for 220.00 and 50 plum ones for 125.01, unless told otherwise."""

    book: Book

    def order(
        self,
        *lines: tuple[str, int, int],
        on: str = "01-05",
        title: str = "shipping",
        terms: str = "FCA",
        **fields: object,
    ) -> int:
        """Place an order of (SKU, pieces, cents); fields of `OrderTerms` go there, the others to the order."""
        of_terms = {name: fields.pop(name) for name in list(fields) if name in OrderTerms.__slots__}
        given: dict[str, object] = {"party": MILL, "reference": "", "currency": "USD"}
        request = OrderRequest(
            ordered_on=day(on),
            lines=tuple(line(*each) for each in lines or ((SAND, 100, 22000), (PLUM, 50, 12501))),
            terms=OrderTerms(terms=terms, title_passes=title, **of_terms),  # type: ignore[arg-type]
            **{**given, **fields},  # type: ignore[arg-type]
        )
        plan = prepare_order(self.book.connection, request, TODAY)
        return post_order(self.book.connection, plan, NOW)

    def ship(
        self, order: int, *what: tuple[str, int], on: str = "01-20", keep: bool = True, **fields: object
    ) -> PostedShipment:
        """Ship (SKU, pieces) of an order, or all that is not shipped yet."""
        request = ShipRequest(
            order=order,
            shipped_on=day(on),
            wishes=tuple(ShipWish(sku=sku, quantity_milli=milli(pieces)) for sku, pieces in what),
            **fields,  # type: ignore[arg-type]
        )
        return ship(self.book.connection, request, TODAY, NOW, keep=keep)

    def arrive(
        self, order: int, *what: tuple[str, int], on: str = "02-10", keep: bool = True, **fields: object
    ) -> PostedArrival:
        """Receive (SKU, pieces) of an order, or all that is under way; ``losses``, ``extras``, ``lost`` too."""
        extras = fields.pop("extras", ())
        items = find_items(self.book.connection)
        wishes = ArrivalWishes(
            came=tuple(ArriveWish(sku=sku, quantity_milli=milli(pieces)) for sku, pieces in what),
            losses=tuple(fields.pop("losses", ())),  # type: ignore[arg-type]
            extras=tuple(
                ExtraWish(item=items[sku], quantity_milli=milli(pieces), amount_foreign=cents)
                for sku, pieces, cents in extras  # type: ignore[attr-defined]
            ),
            lost=str(fields.pop("lost", "")),
        )
        request = ArrivalRequest(order=order, on=day(on), wishes=wishes, rate_of=rate_of, **fields)  # type: ignore[arg-type]
        return arrive(self.book.connection, request, TODAY, NOW, keep=keep)

    def freight(self, cents: int) -> tuple[ChargeWish, ...]:
        """Return a freight bill by quantity."""
        return (charge(cents, "quantity"),)

    def state(self, order: int) -> str:
        """Return where an order stands."""
        return self.found(order).state

    def found(self, order: int) -> Order:
        """Return an order as the book has it."""
        return find_order(self.book.connection, order)

    def held(self, sku: str) -> tuple[int, int, int, int]:
        """Return what is on hand and under way of an item: thousandths and cents of each."""
        rows = self.book.rows(
            "SELECT quantity_milli, amount, under_way_milli, under_way_amount FROM balance WHERE sku = ?", sku
        )
        return tuple(int(str(each)) for each in rows[0]) if rows else (0, 0, 0, 0)  # type: ignore[return-value]

    def is_whole(self) -> bool:
        """Whether every check finds the book whole."""
        assert self.book.prove().findings == ()
        return True
