-- Version 2 of the book: orders and goods under way, late charges, figures of months before the book.

-- What an order says beyond its lines: a fact, like the order itself. Terms are three letters of Incoterms
-- 2020, or the shipping point or destination of a domestic sale; title_passes says from where the goods are
-- the shop's, which the contract may have otherwise than the terms.
CREATE TABLE order_terms (
    document INTEGER PRIMARY KEY REFERENCES document (number),
    terms TEXT NOT NULL,
    named_place TEXT NOT NULL DEFAULT '',
    title_passes TEXT NOT NULL CHECK (title_passes IN ('shipping', 'on board', 'arrival')),
    origin TEXT NOT NULL DEFAULT '',
    deposit_foreign INTEGER NOT NULL DEFAULT 0 CHECK (deposit_foreign >= 0),
    working_days INTEGER CHECK (working_days >= 0),
    transit_days INTEGER CHECK (transit_days >= 0),
    closures TEXT NOT NULL DEFAULT ''
) STRICT;

-- What was told about an order's dates, the latest of a kind in force; a day is empty where it was taken back.
CREATE TABLE order_day (
    id INTEGER PRIMARY KEY,
    document INTEGER NOT NULL REFERENCES document (number),
    what TEXT NOT NULL CHECK (what IN ('ships', 'arrives', 'deposit due', 'deposit paid', 'balance due',
        'balance paid')),
    day TEXT NOT NULL CHECK (day = '' OR day GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    recorded_at TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX order_day_document ON order_day (document, what);

-- What a late charge's share adds to what a lot cost landed: the whole share for the lot it names, and what
-- went on into lots made of it.
CREATE TABLE late_cost (
    document INTEGER NOT NULL REFERENCES document (number),
    line INTEGER NOT NULL,
    position INTEGER NOT NULL,
    lot_document INTEGER NOT NULL,
    lot_line INTEGER NOT NULL,
    sku TEXT NOT NULL REFERENCES item (sku),
    effect_date TEXT NOT NULL,
    amount INTEGER NOT NULL,
    PRIMARY KEY (document, line, position, lot_document, lot_line)
) STRICT, WITHOUT ROWID;
CREATE INDEX late_cost_lot ON late_cost (lot_document, lot_line);
CREATE INDEX late_cost_sku ON late_cost (sku, effect_date);

-- Figures of the tax year's months before the book's first one, and of the year before, as told. The latest
-- row of a name is in force; a figure is money in minor units.
CREATE TABLE earlier_figure (
    id INTEGER PRIMARY KEY,
    tax_year INTEGER NOT NULL,
    name TEXT NOT NULL,
    amount INTEGER NOT NULL,
    recorded_at TEXT NOT NULL
) STRICT;

CREATE INDEX document_line_lot ON document_line (lot_document, lot_line) WHERE lot_document IS NOT NULL;
CREATE INDEX charge_share_effect ON charge_share (effect_date, document);
CREATE INDEX month_balance_month ON month_balance (month);
CREATE INDEX charge_share_late ON charge_share (effect_date, document) WHERE path = 'late';
CREATE INDEX document_event ON document (event, effect_date) WHERE event IN ('order', 'ship', 'order closed');

CREATE TRIGGER order_terms_no_update BEFORE UPDATE ON order_terms
    BEGIN SELECT RAISE(ABORT, 'a posted order never changes; undo it instead'); END;
CREATE TRIGGER order_terms_no_delete BEFORE DELETE ON order_terms
    BEGIN SELECT RAISE(ABORT, 'a posted order is never deleted; undo it instead'); END;
CREATE TRIGGER order_terms_no_replace BEFORE INSERT ON order_terms
    WHEN EXISTS (SELECT 1 FROM order_terms WHERE document = NEW.document)
    BEGIN SELECT RAISE(ABORT, 'a posted order is never replaced; undo it instead'); END;
CREATE TRIGGER order_day_no_update BEFORE UPDATE ON order_day
    BEGIN SELECT RAISE(ABORT, 'what was told never changes; tell the new day'); END;
CREATE TRIGGER order_day_no_delete BEFORE DELETE ON order_day
    BEGIN SELECT RAISE(ABORT, 'what was told is never deleted; tell the new day'); END;
CREATE TRIGGER order_day_no_replace BEFORE INSERT ON order_day
    WHEN EXISTS (SELECT 1 FROM order_day WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'what was told is never replaced; tell the new day'); END;
CREATE TRIGGER earlier_figure_no_update BEFORE UPDATE ON earlier_figure
    BEGIN SELECT RAISE(ABORT, 'a told figure never changes; tell the new one'); END;
CREATE TRIGGER earlier_figure_no_delete BEFORE DELETE ON earlier_figure
    BEGIN SELECT RAISE(ABORT, 'a told figure is never deleted; tell the new one'); END;
CREATE TRIGGER earlier_figure_no_replace BEFORE INSERT ON earlier_figure
    WHEN EXISTS (SELECT 1 FROM earlier_figure WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'a told figure is never replaced; tell the new one'); END;
CREATE TRIGGER late_cost_closed_insert BEFORE INSERT ON late_cost
    WHEN NEW.effect_date <= (SELECT closed_through FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER late_cost_closed_update BEFORE UPDATE ON late_cost
    WHEN OLD.effect_date <= (SELECT closed_through FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER late_cost_closed_delete BEFORE DELETE ON late_cost
    WHEN OLD.effect_date <= (SELECT closed_through FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
