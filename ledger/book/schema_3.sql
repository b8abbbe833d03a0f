-- Version 3 of the book: what suppliers offer, and the duties that apply, each with its history.
-- As on their sheets, what is not filled in is an empty text; amounts and percentages are decimal text,
-- exact, in the offer's currency or the book's (see the sheet). Dates are ISO 8601 text.

CREATE TABLE quote (
    supplier TEXT NOT NULL COLLATE NOCASE REFERENCES party (name),
    offer TEXT NOT NULL COLLATE NOCASE CHECK (length(offer) BETWEEN 1 AND 500),
    unit TEXT NOT NULL DEFAULT '',
    currency TEXT NOT NULL DEFAULT '' CHECK (currency = '' OR length(currency) = 3),
    discount TEXT NOT NULL DEFAULT '' CHECK (discount IN ('', 'all_units', 'incremental')),
    breaks_by TEXT NOT NULL DEFAULT '' CHECK (breaks_by IN ('', 'sku', 'colour', 'style', 'order')),
    minimum TEXT NOT NULL DEFAULT '',
    minimum_per_colour TEXT NOT NULL DEFAULT '',
    multiple TEXT NOT NULL DEFAULT '',
    maximum TEXT NOT NULL DEFAULT '',
    prepack TEXT NOT NULL DEFAULT '',
    terms TEXT NOT NULL DEFAULT '',
    origin TEXT NOT NULL DEFAULT '',
    customs_class TEXT NOT NULL DEFAULT '',
    quoted_on TEXT NOT NULL DEFAULT '' CHECK (quoted_on = '' OR quoted_on GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    valid_from TEXT NOT NULL DEFAULT '' CHECK (valid_from = '' OR valid_from GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    valid_until TEXT NOT NULL DEFAULT '' CHECK (valid_until = '' OR valid_until GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    mode TEXT NOT NULL DEFAULT '' CHECK (mode IN ('', 'ground', 'courier', 'air', 'ocean')),
    freight_per_order TEXT NOT NULL DEFAULT '',
    freight_per_unit TEXT NOT NULL DEFAULT '',
    freight_per_kg TEXT NOT NULL DEFAULT '',
    volumetric TEXT NOT NULL DEFAULT '',
    weight_step TEXT NOT NULL DEFAULT '',
    freight_per_m3 TEXT NOT NULL DEFAULT '',
    least_m3 TEXT NOT NULL DEFAULT '',
    freight_minimum TEXT NOT NULL DEFAULT '',
    free_above TEXT NOT NULL DEFAULT '',
    inland TEXT NOT NULL DEFAULT '',
    freight_currency TEXT NOT NULL DEFAULT '',
    insurance TEXT NOT NULL DEFAULT '',
    insured_value TEXT NOT NULL DEFAULT '',
    insurance_minimum TEXT NOT NULL DEFAULT '',
    duty_base TEXT NOT NULL DEFAULT '' CHECK (duty_base IN ('', 'FOB', 'CIF')),
    included_freight TEXT NOT NULL DEFAULT '',
    brokerage TEXT NOT NULL DEFAULT '',
    bond TEXT NOT NULL DEFAULT '',
    terminal TEXT NOT NULL DEFAULT '',
    delivery TEXT NOT NULL DEFAULT '',
    bank_fee TEXT NOT NULL DEFAULT '',
    assists TEXT NOT NULL DEFAULT '',
    assists_per_unit TEXT NOT NULL DEFAULT '',
    lead_days TEXT NOT NULL DEFAULT '',
    lead_spread TEXT NOT NULL DEFAULT '',
    deposit TEXT NOT NULL DEFAULT '',
    deposit_days TEXT NOT NULL DEFAULT '',
    defects TEXT NOT NULL DEFAULT '',
    claim_returns TEXT NOT NULL DEFAULT '',
    sample TEXT NOT NULL DEFAULT '',
    closures TEXT NOT NULL DEFAULT '',
    order_cost TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (supplier, offer)
) STRICT;

-- What an offer has prices for: an item, or a style in some colours and sizes (empty: all).
CREATE TABLE quote_price (
    supplier TEXT NOT NULL COLLATE NOCASE,
    offer TEXT NOT NULL COLLATE NOCASE,
    position INTEGER NOT NULL CHECK (position > 0),
    sku TEXT NOT NULL DEFAULT '',
    style TEXT NOT NULL DEFAULT '',
    colours TEXT NOT NULL DEFAULT '',
    sizes TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (supplier, offer, position),
    FOREIGN KEY (supplier, offer) REFERENCES quote (supplier, offer) ON DELETE CASCADE,
    CHECK ((sku = '') <> (style = ''))
) STRICT;
CREATE INDEX quote_price_sku ON quote_price (sku);
CREATE INDEX quote_price_style ON quote_price (style);

CREATE TABLE quote_break (
    supplier TEXT NOT NULL COLLATE NOCASE,
    offer TEXT NOT NULL COLLATE NOCASE,
    position INTEGER NOT NULL,
    from_quantity INTEGER NOT NULL CHECK (from_quantity > 0),
    price TEXT NOT NULL,
    PRIMARY KEY (supplier, offer, position, from_quantity),
    FOREIGN KEY (supplier, offer, position) REFERENCES quote_price (supplier, offer, position) ON DELETE CASCADE
) STRICT;

-- Every state an offer had, as JSON, the latest of which stands in quote, quote_price and quote_break.
CREATE TABLE quote_change (
    id INTEGER PRIMARY KEY,
    recorded_at TEXT NOT NULL,
    supplier TEXT NOT NULL COLLATE NOCASE,
    offer TEXT NOT NULL COLLATE NOCASE,
    content TEXT NOT NULL
) STRICT;
CREATE INDEX quote_change_offer ON quote_change (supplier, offer, id);

-- One dated rate; the layers of different programs add up. until is the first day it no longer holds.
CREATE TABLE duty_layer (
    program TEXT NOT NULL COLLATE NOCASE CHECK (length(program) BETWEEN 1 AND 500),
    customs_class TEXT NOT NULL DEFAULT '',
    origin TEXT NOT NULL DEFAULT '' CHECK (origin = '' OR length(origin) = 2),
    start TEXT NOT NULL DEFAULT '' CHECK (start = '' OR start GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    rate TEXT NOT NULL,
    until TEXT NOT NULL DEFAULT '' CHECK (until = '' OR until >= start),
    source TEXT NOT NULL DEFAULT '',
    checked_on TEXT NOT NULL DEFAULT '',
    is_example INTEGER NOT NULL DEFAULT 0 CHECK (is_example IN (0, 1)),
    note TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (program, customs_class, origin, start)
) STRICT;

CREATE TABLE duty_change (
    id INTEGER PRIMARY KEY,
    recorded_at TEXT NOT NULL,
    program TEXT NOT NULL COLLATE NOCASE,
    customs_class TEXT NOT NULL,
    origin TEXT NOT NULL,
    start TEXT NOT NULL,
    content TEXT NOT NULL
) STRICT;

CREATE TRIGGER quote_change_no_update BEFORE UPDATE ON quote_change
    BEGIN SELECT RAISE(ABORT, 'the history of an offer never changes; load the new one'); END;
CREATE TRIGGER quote_change_no_delete BEFORE DELETE ON quote_change
    BEGIN SELECT RAISE(ABORT, 'the history of an offer is never deleted'); END;
CREATE TRIGGER quote_change_no_replace BEFORE INSERT ON quote_change
    WHEN EXISTS (SELECT 1 FROM quote_change WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'the history of an offer is never replaced'); END;
CREATE TRIGGER duty_change_no_update BEFORE UPDATE ON duty_change
    BEGIN SELECT RAISE(ABORT, 'the history of a duty never changes; load the new one'); END;
CREATE TRIGGER duty_change_no_delete BEFORE DELETE ON duty_change
    BEGIN SELECT RAISE(ABORT, 'the history of a duty is never deleted'); END;
CREATE TRIGGER duty_change_no_replace BEFORE INSERT ON duty_change
    WHEN EXISTS (SELECT 1 FROM duty_change WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'the history of a duty is never replaced'); END;
