-- Version 4 of the book: buying decisions that were kept, to be looked back at, and the offers of orders.
-- Amounts are whole minor units of the book's currency; what one costs is in ten-thousandths of a minor
-- unit; days, weeks and demand are in thousandths. What the study did not give is null.

CREATE TABLE decision (
    number INTEGER PRIMARY KEY CHECK (number > 0),
    kept_at TEXT NOT NULL CHECK (kept_at GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T*'),
    decided_on TEXT NOT NULL CHECK (decided_on GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    subject TEXT NOT NULL CHECK (length(subject) BETWEEN 1 AND 500),
    colour TEXT NOT NULL DEFAULT '',
    from_book INTEGER NOT NULL CHECK (from_book IN (0, 1)),
    -- The keys of the study's demand that the book's history gave, where a study's file left them open.
    from_history TEXT NOT NULL DEFAULT '',
    -- The highest document number of that moment: what has a higher one was not known then.
    known_documents INTEGER NOT NULL CHECK (known_documents >= 0),
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    unit TEXT NOT NULL DEFAULT '',
    horizon_months INTEGER NOT NULL CHECK (horizon_months > 0),
    study TEXT NOT NULL CHECK (length(study) BETWEEN 1 AND 1000000),
    seed INTEGER NOT NULL CHECK (seed >= 0),
    futures INTEGER NOT NULL CHECK (futures >= 0),
    verdict TEXT NOT NULL CHECK (length(verdict) > 0),
    sentence TEXT NOT NULL CHECK (length(sentence) > 0),
    alternative TEXT NOT NULL,
    is_from_afar INTEGER NOT NULL CHECK (is_from_afar IN (0, 1)),
    offer TEXT NOT NULL DEFAULT '',
    supplier TEXT COLLATE NOCASE REFERENCES party (name),
    quantity INTEGER NOT NULL CHECK (quantity >= 0),
    expected_saving INTEGER,
    standard_error INTEGER CHECK (standard_error >= 0),
    cash_peak INTEGER,
    landed_unit_ten_thousandths INTEGER,
    sold_unit_ten_thousandths INTEGER,
    lead_time_days_milli INTEGER CHECK (lead_time_days_milli >= 0),
    demand_per_month_milli INTEGER NOT NULL CHECK (demand_per_month_milli >= 0),
    weeks_of_cover_milli INTEGER CHECK (weeks_of_cover_milli >= 0),
    order_by TEXT NOT NULL DEFAULT '',
    home_offer TEXT NOT NULL DEFAULT '',
    home_supplier TEXT COLLATE NOCASE REFERENCES party (name),
    home_unit_ten_thousandths INTEGER,
    why TEXT NOT NULL DEFAULT '',
    content_sha256 TEXT NOT NULL CHECK (length(content_sha256) = 64)
) STRICT;

-- The items a decision was about, and what its study calls each; empty where it tells no sizes apart.
CREATE TABLE decision_item (
    decision INTEGER NOT NULL REFERENCES decision (number),
    sku TEXT NOT NULL REFERENCES item (sku),
    size TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (decision, sku)
) STRICT, WITHOUT ROWID;
CREATE INDEX decision_item_sku ON decision_item (sku, decision);

CREATE TABLE decision_size (
    decision INTEGER NOT NULL REFERENCES decision (number),
    position INTEGER NOT NULL CHECK (position > 0),
    size TEXT NOT NULL,
    quantity INTEGER NOT NULL CHECK (quantity >= 0),
    PRIMARY KEY (decision, position),
    UNIQUE (decision, size)
) STRICT, WITHOUT ROWID;

-- The orders that somebody says a decision led to.
CREATE TABLE decision_order (
    decision INTEGER NOT NULL REFERENCES decision (number),
    order_document INTEGER NOT NULL REFERENCES document (number),
    told_at TEXT NOT NULL,
    PRIMARY KEY (decision, order_document),
    UNIQUE (order_document)
) STRICT, WITHOUT ROWID;

-- The supplier's offer that an order was placed under, by its name, which may be empty; no row where nobody said.
CREATE TABLE order_offer (
    document INTEGER PRIMARY KEY REFERENCES document (number),
    offer TEXT NOT NULL CHECK (length(offer) <= 500)
) STRICT;

CREATE TRIGGER decision_no_update BEFORE UPDATE ON decision
    BEGIN SELECT RAISE(ABORT, 'a kept decision never changes; keep a new one'); END;
CREATE TRIGGER decision_no_delete BEFORE DELETE ON decision
    BEGIN SELECT RAISE(ABORT, 'a kept decision is never deleted'); END;
CREATE TRIGGER decision_no_replace BEFORE INSERT ON decision
    WHEN EXISTS (SELECT 1 FROM decision WHERE number = NEW.number)
    BEGIN SELECT RAISE(ABORT, 'a kept decision is never replaced; keep a new one'); END;
CREATE TRIGGER decision_item_no_update BEFORE UPDATE ON decision_item
    BEGIN SELECT RAISE(ABORT, 'an item of a kept decision never changes; keep a new one'); END;
CREATE TRIGGER decision_item_no_delete BEFORE DELETE ON decision_item
    BEGIN SELECT RAISE(ABORT, 'an item of a kept decision is never deleted'); END;
CREATE TRIGGER decision_item_no_replace BEFORE INSERT ON decision_item
    WHEN EXISTS (SELECT 1 FROM decision_item WHERE decision = NEW.decision AND sku = NEW.sku)
    BEGIN SELECT RAISE(ABORT, 'an item of a kept decision is never replaced; keep a new one'); END;
CREATE TRIGGER decision_size_no_update BEFORE UPDATE ON decision_size
    BEGIN SELECT RAISE(ABORT, 'a quantity of a kept decision never changes; keep a new one'); END;
CREATE TRIGGER decision_size_no_delete BEFORE DELETE ON decision_size
    BEGIN SELECT RAISE(ABORT, 'a quantity of a kept decision is never deleted'); END;
CREATE TRIGGER decision_size_no_replace BEFORE INSERT ON decision_size
    WHEN EXISTS (SELECT 1 FROM decision_size WHERE decision = NEW.decision
        AND (position = NEW.position OR size = NEW.size))
    BEGIN SELECT RAISE(ABORT, 'a quantity of a kept decision is never replaced; keep a new one'); END;
CREATE TRIGGER decision_order_no_update BEFORE UPDATE ON decision_order
    BEGIN SELECT RAISE(ABORT, 'an order told of a kept decision never changes'); END;
CREATE TRIGGER decision_order_no_delete BEFORE DELETE ON decision_order
    BEGIN SELECT RAISE(ABORT, 'an order told of a kept decision is never deleted'); END;
CREATE TRIGGER decision_order_no_replace BEFORE INSERT ON decision_order
    WHEN EXISTS (SELECT 1 FROM decision_order WHERE order_document = NEW.order_document)
    BEGIN SELECT RAISE(ABORT, 'an order told of a kept decision is never replaced'); END;
CREATE TRIGGER order_offer_no_update BEFORE UPDATE ON order_offer
    BEGIN SELECT RAISE(ABORT, 'a posted order never changes; undo it instead'); END;
CREATE TRIGGER order_offer_no_delete BEFORE DELETE ON order_offer
    BEGIN SELECT RAISE(ABORT, 'a posted order is never deleted; undo it instead'); END;
CREATE TRIGGER order_offer_no_replace BEFORE INSERT ON order_offer
    WHEN EXISTS (SELECT 1 FROM order_offer WHERE document = NEW.document)
    BEGIN SELECT RAISE(ABORT, 'a posted order is never replaced; undo it instead'); END;
