-- Version 1 of the book: the shop, the catalogue, the facts, and what follows from them.
-- Every table is STRICT. Money is whole minor units of the book's currency (columns ending in
-- _foreign: of the document's currency); quantities are whole thousandths of the item's base unit
-- (columns ending in _milli). Dates are ISO 8601 text, months are YYYY-MM.

-- ---------------------------------------------------------------- the shop and its policies

CREATE TABLE shop (
    id INTEGER PRIMARY KEY CHECK (id = 1),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    country TEXT NOT NULL DEFAULT 'US',
    first_month TEXT NOT NULL CHECK (first_month GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]'),
    tax_year_starts TEXT NOT NULL DEFAULT '01' CHECK (tax_year_starts GLOB '[01][0-9]'),
    started_at TEXT NOT NULL
) STRICT;

-- Recorded as told; the latest row of a name is the one in force.
CREATE TABLE policy (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    value TEXT NOT NULL,
    recorded_at TEXT NOT NULL
) STRICT;

-- ---------------------------------------------------------------- the catalogue

CREATE TABLE kind (
    name TEXT PRIMARY KEY CHECK (length(name) BETWEEN 1 AND 40),
    note TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;

CREATE TABLE size_ladder (
    ladder TEXT NOT NULL,
    size TEXT NOT NULL,
    position INTEGER NOT NULL,
    aliases TEXT NOT NULL DEFAULT '',
    childrens INTEGER NOT NULL DEFAULT 0 CHECK (childrens IN (0, 1)),
    PRIMARY KEY (ladder, size)
) STRICT, WITHOUT ROWID;

CREATE TABLE item (
    sku TEXT PRIMARY KEY CHECK (length(sku) BETWEEN 1 AND 40),
    name TEXT NOT NULL,
    kind TEXT NOT NULL REFERENCES kind (name),
    tax_class TEXT NOT NULL CHECK (tax_class IN
        ('goods', 'supplies when used', 'supplies when bought', 'customer''s')),
    base_unit TEXT NOT NULL CHECK (base_unit IN ('each', 'sheet', 'mL', 'g', 'cm', 'cm2')),
    style TEXT NOT NULL DEFAULT '',
    colour TEXT NOT NULL DEFAULT '',
    size TEXT NOT NULL DEFAULT '',
    ladder TEXT NOT NULL DEFAULT '',
    fibre_content TEXT NOT NULL DEFAULT '',
    weight_mg INTEGER CHECK (weight_mg > 0),
    volume_mm3 INTEGER CHECK (volume_mm3 > 0),
    density_mg_per_ml INTEGER CHECK (density_mg_per_ml > 0),
    customs_class TEXT NOT NULL DEFAULT '',
    origin TEXT NOT NULL DEFAULT '',
    shelf_life_days INTEGER CHECK (shelf_life_days > 0),
    use_estimated INTEGER NOT NULL DEFAULT 0 CHECK (use_estimated IN (0, 1)),
    safety_sheet TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX item_style ON item (style, colour, size);

CREATE TABLE pack (
    sku TEXT NOT NULL REFERENCES item (sku) ON DELETE CASCADE,
    name TEXT NOT NULL,
    numerator INTEGER NOT NULL CHECK (numerator > 0),
    denominator INTEGER NOT NULL CHECK (denominator > 0),
    -- what the seller calls the size, where that is not the real content
    nominal TEXT NOT NULL DEFAULT '',
    nominal_numerator INTEGER CHECK (nominal_numerator > 0),
    nominal_denominator INTEGER CHECK (nominal_denominator > 0),
    PRIMARY KEY (sku, name)
) STRICT, WITHOUT ROWID;

CREATE TABLE party (
    name TEXT PRIMARY KEY COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 200),
    role TEXT NOT NULL DEFAULT 'supplier',
    country TEXT NOT NULL DEFAULT '',
    currency TEXT NOT NULL DEFAULT '',
    terms TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE supplier_code (
    party TEXT NOT NULL COLLATE NOCASE REFERENCES party (name),
    code TEXT NOT NULL,
    sku TEXT NOT NULL REFERENCES item (sku),
    PRIMARY KEY (party, code)
) STRICT, WITHOUT ROWID;

-- What a party's words for style, colour and size mean in the catalogue; longer codes are read by them.
CREATE TABLE alias_word (
    party TEXT NOT NULL COLLATE NOCASE REFERENCES party (name),
    part TEXT NOT NULL CHECK (part IN ('style', 'colour', 'size')),
    word TEXT NOT NULL CHECK (length(word) BETWEEN 1 AND 200),
    meaning TEXT NOT NULL CHECK (length(meaning) BETWEEN 1 AND 200),
    PRIMARY KEY (party, part, word)
) STRICT, WITHOUT ROWID;

-- What was taught and taken back, so that it can be undone; the changes of one step were made together.
CREATE TABLE alias_change (
    id INTEGER PRIMARY KEY,
    step INTEGER NOT NULL CHECK (step > 0),
    undoes INTEGER,
    recorded_at TEXT NOT NULL,
    party TEXT NOT NULL COLLATE NOCASE,
    part TEXT NOT NULL CHECK (part IN ('code', 'style', 'colour', 'size')),
    word TEXT NOT NULL,
    before TEXT NOT NULL,
    after TEXT NOT NULL
) STRICT;
CREATE INDEX alias_change_step ON alias_change (step);

-- Bills of materials. Amounts are decimal text, exact, in the unit beside them; labour is decimal text in
-- the book's currency. A posted job keeps what it used, so a bill may change or go.
CREATE TABLE bill (
    code TEXT PRIMARY KEY COLLATE NOCASE CHECK (length(code) BETWEEN 1 AND 40),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    way TEXT NOT NULL,
    -- a style or one SKU; empty where the garment is the customer's own
    blank TEXT NOT NULL DEFAULT '',
    finished TEXT NOT NULL CHECK (finished <> ''),
    misprint_percent TEXT NOT NULL DEFAULT '0',
    labour_per_piece TEXT NOT NULL DEFAULT '0',
    labour_per_run TEXT NOT NULL DEFAULT '0',
    least_polyester_percent INTEGER CHECK (least_polyester_percent BETWEEN 1 AND 100),
    light_only INTEGER NOT NULL DEFAULT 0 CHECK (light_only IN (0, 1)),
    note TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;

CREATE TABLE bill_line (
    bill TEXT NOT NULL COLLATE NOCASE REFERENCES bill (code) ON DELETE CASCADE,
    position INTEGER NOT NULL CHECK (position > 0),
    -- no foreign key: another bill's finished item is in the catalogue only once it was made
    sku TEXT NOT NULL CHECK (length(sku) BETWEEN 1 AND 40),
    per_piece TEXT NOT NULL DEFAULT '0',
    per_run TEXT NOT NULL DEFAULT '0',
    unit TEXT NOT NULL DEFAULT '',
    waste_percent TEXT NOT NULL DEFAULT '0',
    uses INTEGER CHECK (uses > 0),
    colours TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (bill, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX bill_line_sku ON bill_line (sku);

-- ---------------------------------------------------------------- facts: append-only

CREATE TABLE document (
    number INTEGER PRIMARY KEY CHECK (number > 0),
    event TEXT NOT NULL CHECK (event IN (
        'opening', 'order', 'ship', 'receipt', 'charge', 'make', 'sale', 'use', 'spoil', 'own use',
        'sample', 'donate', 'take back', 'refund', 'send back', 'count', 'write down',
        'undo', 'close', 'reopen', 'order closed')),
    document_date TEXT NOT NULL CHECK (document_date GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    effect_date TEXT NOT NULL CHECK (effect_date GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    recorded_at TEXT NOT NULL,
    party TEXT COLLATE NOCASE REFERENCES party (name),
    reference TEXT NOT NULL DEFAULT '',
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    rate TEXT NOT NULL DEFAULT '1',
    rate_source TEXT NOT NULL DEFAULT '',
    path TEXT NOT NULL DEFAULT '' CHECK (path IN ('', 'with receipt', 'late', 'dropped', 'reversal', 'credit')),
    undoes INTEGER REFERENCES document (number),
    follows INTEGER REFERENCES document (number),
    shipped_on TEXT,
    arrived_on TEXT,
    terms TEXT NOT NULL DEFAULT '',
    total_foreign INTEGER NOT NULL DEFAULT 0,
    total INTEGER NOT NULL DEFAULT 0,
    content_sha256 TEXT NOT NULL DEFAULT '',
    source_name TEXT NOT NULL DEFAULT '',
    -- which row of a sales export it is: channel, order and line; an export may come again with more rows
    source_key TEXT NOT NULL DEFAULT '',
    reason TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    CONSTRAINT undo_says_what CHECK ((event = 'undo') = (undoes IS NOT NULL)),
    CONSTRAINT undo_says_how CHECK (event <> 'undo' OR path IN ('dropped', 'reversal', 'credit'))
) STRICT;
CREATE INDEX document_effect ON document (effect_date, number);
CREATE INDEX document_content ON document (content_sha256) WHERE content_sha256 <> '';
CREATE INDEX document_source ON document (source_key) WHERE source_key <> '';
CREATE INDEX document_reference ON document (party, reference) WHERE reference <> '';
CREATE UNIQUE INDEX document_undone_once ON document (undoes) WHERE undoes IS NOT NULL;
CREATE INDEX document_follows ON document (follows) WHERE follows IS NOT NULL;

CREATE TABLE document_line (
    document INTEGER NOT NULL REFERENCES document (number),
    line INTEGER NOT NULL CHECK (line > 0),
    role TEXT NOT NULL DEFAULT 'item' CHECK (role IN ('item', 'component', 'product', 'labour', 'charge')),
    sku TEXT REFERENCES item (sku),
    kind TEXT NOT NULL DEFAULT '',
    tax_class TEXT NOT NULL DEFAULT '',
    -- what was typed, kept as typed
    unit TEXT NOT NULL DEFAULT '',
    unit_quantity TEXT NOT NULL DEFAULT '',
    -- receipts: invoiced = good + claimed + normal + expensed; other events: the quantity itself
    quantity_milli INTEGER NOT NULL DEFAULT 0,
    claimed_milli INTEGER NOT NULL DEFAULT 0 CHECK (claimed_milli >= 0),
    normal_milli INTEGER NOT NULL DEFAULT 0 CHECK (normal_milli >= 0),
    expensed_milli INTEGER NOT NULL DEFAULT 0 CHECK (expensed_milli >= 0),
    -- net of line and invoice discounts; the claimed part is in it
    amount_foreign INTEGER NOT NULL DEFAULT 0,
    amount INTEGER NOT NULL DEFAULT 0,
    claimed_amount INTEGER NOT NULL DEFAULT 0,
    -- what a supplier credits for what is sent back; NULL: its invoice cost
    credit INTEGER,
    discount_foreign INTEGER NOT NULL DEFAULT 0,
    provisional INTEGER NOT NULL DEFAULT 0 CHECK (provisional IN (0, 1)),
    -- spreading weights of the whole line, as they were known when posted
    weight_mg INTEGER,
    volume_mm3 INTEGER,
    charge_kind TEXT NOT NULL DEFAULT '',
    basis TEXT NOT NULL DEFAULT '',
    lot_document INTEGER,
    lot_line INTEGER,
    estimated INTEGER NOT NULL DEFAULT 0 CHECK (estimated IN (0, 1)),
    short_allowed INTEGER NOT NULL DEFAULT 0 CHECK (short_allowed IN (0, 1)),
    tax_paid TEXT NOT NULL DEFAULT '' CHECK (tax_paid IN ('', 'yes', 'resale', 'none')),
    expires_on TEXT,
    shipping INTEGER,
    fees INTEGER,
    supplier_code TEXT NOT NULL DEFAULT '',
    place TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (document, line),
    CONSTRAINT an_item_line_names_one CHECK (role IN ('labour', 'charge') OR sku IS NOT NULL),
    CONSTRAINT losses_within_the_line CHECK (claimed_milli + normal_milli + expensed_milli <= max(quantity_milli, 0))
) STRICT, WITHOUT ROWID;
CREATE INDEX document_line_sku ON document_line (sku, document) WHERE sku IS NOT NULL;

-- How a charge was spread over receipt lines, and the path each share takes.
CREATE TABLE charge_share (
    document INTEGER NOT NULL REFERENCES document (number),
    line INTEGER NOT NULL,
    receipt_document INTEGER NOT NULL REFERENCES document (number),
    receipt_line INTEGER NOT NULL,
    position INTEGER NOT NULL CHECK (position > 0),
    weight INTEGER NOT NULL,
    amount INTEGER NOT NULL,
    path TEXT NOT NULL CHECK (path IN ('with receipt', 'late')),
    effect_date TEXT NOT NULL,
    PRIMARY KEY (document, line, receipt_document, receipt_line),
    UNIQUE (document, line, position),
    FOREIGN KEY (document, line) REFERENCES document_line (document, line),
    FOREIGN KEY (receipt_document, receipt_line) REFERENCES document_line (document, line)
) STRICT, WITHOUT ROWID;
CREATE INDEX charge_share_receipt ON charge_share (receipt_document, receipt_line);

-- Closes and reopens, one row each, chained by fingerprint.
CREATE TABLE month_event (
    document INTEGER PRIMARY KEY REFERENCES document (number),
    action TEXT NOT NULL CHECK (action IN ('close', 'reopen')),
    month TEXT NOT NULL CHECK (month GLOB '[0-9][0-9][0-9][0-9]-[01][0-9]'),
    fingerprint TEXT NOT NULL DEFAULT '',
    previous_fingerprint TEXT NOT NULL DEFAULT '',
    policies TEXT NOT NULL DEFAULT '{}',
    figures TEXT NOT NULL DEFAULT '{}'
) STRICT;

-- ---------------------------------------------------------------- what follows from the facts

-- The last day of the last closed month; '0000-00-00' while none is closed.
CREATE TABLE boundary (
    id INTEGER PRIMARY KEY CHECK (id = 1),
    closed_through TEXT NOT NULL
) STRICT;

CREATE TABLE leg (
    document INTEGER NOT NULL REFERENCES document (number),
    line INTEGER NOT NULL,
    part INTEGER NOT NULL,
    effect_date TEXT NOT NULL,
    account TEXT NOT NULL CHECK (account IN (
        'opening balance', 'purchases', 'charges', 'labour', 'under way', 'on hand', 'work in process',
        'made', 'pieces sold', 'used', 'supplies', 'spoilage', 'count differences', 'own use', 'samples',
        'donations', 'write-downs', 'returned to supplier', 'supplier price differences',
        'late charges on used stock')),
    sku TEXT REFERENCES item (sku),
    lot_document INTEGER,
    lot_line INTEGER,
    quantity_milli INTEGER NOT NULL,
    amount INTEGER NOT NULL,
    PRIMARY KEY (document, line, part)
) STRICT, WITHOUT ROWID;
-- Covering: stock of a day adds up a month's legs of every item without looking at the legs themselves.
CREATE INDEX leg_sku ON leg (sku, effect_date, account, quantity_milli, amount);
CREATE INDEX leg_lot ON leg (lot_document, lot_line) WHERE lot_document IS NOT NULL;

CREATE TABLE lot (
    document INTEGER NOT NULL REFERENCES document (number),
    line INTEGER NOT NULL,
    sku TEXT NOT NULL REFERENCES item (sku),
    owned_from TEXT NOT NULL,
    available_from TEXT,
    class INTEGER NOT NULL,
    quantity_received INTEGER NOT NULL,
    invoice_cost INTEGER NOT NULL,
    charges INTEGER NOT NULL,
    quantity_on_hand INTEGER NOT NULL,
    value_on_hand INTEGER NOT NULL,
    expires_on TEXT,
    PRIMARY KEY (document, line)
) STRICT, WITHOUT ROWID;
CREATE INDEX lot_on_hand ON lot (sku, available_from, class, document, line) WHERE quantity_on_hand > 0;
CREATE INDEX lot_sku ON lot (sku, available_from, class, document, line);
CREATE INDEX lot_expiry ON lot (expires_on) WHERE expires_on IS NOT NULL AND quantity_on_hand > 0;

-- The layers still open at the end of history, oldest position first within a lot.
CREATE TABLE layer (
    lot_document INTEGER NOT NULL,
    lot_line INTEGER NOT NULL,
    position INTEGER NOT NULL,
    quantity INTEGER NOT NULL CHECK (quantity > 0),
    amount INTEGER NOT NULL,
    used INTEGER NOT NULL CHECK (used >= 0 AND used <= quantity),
    PRIMARY KEY (lot_document, lot_line, position),
    FOREIGN KEY (lot_document, lot_line) REFERENCES lot (document, line)
) STRICT, WITHOUT ROWID;

-- The same, as they stood when a month was closed: where replaying starts.
CREATE TABLE closed_layer (
    close_document INTEGER NOT NULL REFERENCES month_event (document),
    lot_document INTEGER NOT NULL,
    lot_line INTEGER NOT NULL,
    position INTEGER NOT NULL,
    quantity INTEGER NOT NULL,
    amount INTEGER NOT NULL,
    used INTEGER NOT NULL,
    PRIMARY KEY (close_document, lot_document, lot_line, position)
) STRICT, WITHOUT ROWID;

-- Stock used before it was entered, still unsettled at the end of history.
CREATE TABLE short (
    document INTEGER NOT NULL,
    line INTEGER NOT NULL,
    sku TEXT NOT NULL REFERENCES item (sku),
    effect_date TEXT NOT NULL,
    quantity_milli INTEGER NOT NULL CHECK (quantity_milli > 0),
    PRIMARY KEY (document, line)
) STRICT, WITHOUT ROWID;
CREATE INDEX short_sku ON short (sku);

-- On hand and under way now, per SKU. last_effect is the latest day that touched the SKU.
CREATE TABLE balance (
    sku TEXT PRIMARY KEY REFERENCES item (sku),
    quantity_milli INTEGER NOT NULL,
    amount INTEGER NOT NULL,
    under_way_milli INTEGER NOT NULL,
    under_way_amount INTEGER NOT NULL,
    last_effect TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- On hand and under way at the end of each month in which the SKU moved.
CREATE TABLE month_balance (
    sku TEXT NOT NULL REFERENCES item (sku),
    month TEXT NOT NULL,
    quantity_milli INTEGER NOT NULL,
    amount INTEGER NOT NULL,
    under_way_milli INTEGER NOT NULL,
    under_way_amount INTEGER NOT NULL,
    PRIMARY KEY (sku, month)
) STRICT, WITHOUT ROWID;

-- What each month put on each account, per SKU: the roll-forward and the year to date read this.
CREATE TABLE month_total (
    month TEXT NOT NULL,
    sku TEXT NOT NULL REFERENCES item (sku),
    account TEXT NOT NULL,
    quantity_milli INTEGER NOT NULL,
    amount INTEGER NOT NULL,
    PRIMARY KEY (month, sku, account)
) STRICT, WITHOUT ROWID;
CREATE INDEX month_total_sku ON month_total (sku, month);

-- ---------------------------------------------------------------- guards

CREATE TRIGGER document_no_update BEFORE UPDATE ON document
    BEGIN SELECT RAISE(ABORT, 'a posted document never changes; undo it instead'); END;
CREATE TRIGGER document_no_delete BEFORE DELETE ON document
    BEGIN SELECT RAISE(ABORT, 'a posted document is never deleted; undo it instead'); END;
-- A program that replaces a row without recursive triggers would slip past the delete guard.
CREATE TRIGGER document_no_replace BEFORE INSERT ON document
    WHEN EXISTS (SELECT 1 FROM document WHERE number = NEW.number)
        OR (NEW.undoes IS NOT NULL AND EXISTS (SELECT 1 FROM document WHERE undoes = NEW.undoes))
    BEGIN SELECT RAISE(ABORT, 'a posted document is never replaced; undo it instead'); END;
-- Not a unique index: a row whose document was undone may come again.
CREATE TRIGGER document_source_once BEFORE INSERT ON document
    WHEN NEW.source_key <> '' AND EXISTS (SELECT 1 FROM document AS old WHERE old.source_key = NEW.source_key
        AND old.source_key <> '' AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = old.number))
    BEGIN SELECT RAISE(ABORT, 'this row of a sales export is in the book already'); END;
CREATE TRIGGER document_not_into_closed BEFORE INSERT ON document
    WHEN NEW.event NOT IN ('close', 'reopen')
        AND NEW.effect_date <= (SELECT closed_through FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'the month of this date is closed'); END;

CREATE TRIGGER document_line_no_update BEFORE UPDATE ON document_line
    BEGIN SELECT RAISE(ABORT, 'a posted document never changes; undo it instead'); END;
CREATE TRIGGER document_line_no_delete BEFORE DELETE ON document_line
    BEGIN SELECT RAISE(ABORT, 'a posted document is never deleted; undo it instead'); END;
CREATE TRIGGER document_line_no_replace BEFORE INSERT ON document_line
    WHEN EXISTS (SELECT 1 FROM document_line WHERE document = NEW.document AND line = NEW.line)
    BEGIN SELECT RAISE(ABORT, 'a posted line is never replaced; undo its document instead'); END;
CREATE TRIGGER document_line_not_into_closed BEFORE INSERT ON document_line
    WHEN (SELECT effect_date FROM document WHERE number = NEW.document)
        <= (SELECT closed_through FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'the month of this document is closed'); END;

CREATE TRIGGER charge_share_no_update BEFORE UPDATE ON charge_share
    BEGIN SELECT RAISE(ABORT, 'a posted charge never changes; undo it instead'); END;
CREATE TRIGGER charge_share_no_delete BEFORE DELETE ON charge_share
    BEGIN SELECT RAISE(ABORT, 'a posted charge is never deleted; undo it instead'); END;
CREATE TRIGGER charge_share_no_replace BEFORE INSERT ON charge_share
    WHEN EXISTS (SELECT 1 FROM charge_share WHERE document = NEW.document AND line = NEW.line
        AND receipt_document = NEW.receipt_document AND receipt_line = NEW.receipt_line)
        OR EXISTS (SELECT 1 FROM charge_share WHERE document = NEW.document AND line = NEW.line
            AND position = NEW.position)
    BEGIN SELECT RAISE(ABORT, 'a posted charge is never replaced; undo it instead'); END;
CREATE TRIGGER charge_share_not_into_closed BEFORE INSERT ON charge_share
    WHEN NEW.effect_date <= (SELECT closed_through FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'the month of this charge is closed'); END;

CREATE TRIGGER month_event_no_update BEFORE UPDATE ON month_event
    BEGIN SELECT RAISE(ABORT, 'a close never changes; reopen the month instead'); END;
CREATE TRIGGER month_event_no_delete BEFORE DELETE ON month_event
    BEGIN SELECT RAISE(ABORT, 'a close is never deleted; reopen the month instead'); END;
CREATE TRIGGER month_event_no_replace BEFORE INSERT ON month_event
    WHEN EXISTS (SELECT 1 FROM month_event WHERE document = NEW.document)
    BEGIN SELECT RAISE(ABORT, 'a close is never replaced; reopen the month instead'); END;

CREATE TRIGGER policy_no_update BEFORE UPDATE ON policy
    BEGIN SELECT RAISE(ABORT, 'a recorded policy never changes; record the new one'); END;
CREATE TRIGGER policy_no_delete BEFORE DELETE ON policy
    BEGIN SELECT RAISE(ABORT, 'a recorded policy is never deleted; record the new one'); END;
CREATE TRIGGER policy_no_replace BEFORE INSERT ON policy
    WHEN EXISTS (SELECT 1 FROM policy WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'a recorded policy is never replaced; record the new one'); END;

-- The boundary only moves with a close or reopen that says so.
CREATE TRIGGER boundary_follows_closes BEFORE UPDATE ON boundary
    WHEN NEW.closed_through <> coalesce(
        (SELECT date(max(c.month) || '-01', '+1 month', '-1 day') FROM month_event AS c
         WHERE c.action = 'close' AND NOT EXISTS (
            SELECT 1 FROM month_event AS r
            WHERE r.action = 'reopen' AND r.month <= c.month AND r.document > c.document)),
        '0000-00-00')
    BEGIN SELECT RAISE(ABORT, 'months are closed and reopened only by their documents'); END;
CREATE TRIGGER boundary_no_delete BEFORE DELETE ON boundary
    BEGIN SELECT RAISE(ABORT, 'months are closed and reopened only by their documents'); END;
CREATE TRIGGER boundary_no_replace BEFORE INSERT ON boundary
    WHEN EXISTS (SELECT 1 FROM boundary WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'months are closed and reopened only by their documents'); END;

-- The second half is for a program that replaces a closed leg by one of an open month.
CREATE TRIGGER leg_closed_insert BEFORE INSERT ON leg
    WHEN NEW.effect_date <= (SELECT closed_through FROM boundary WHERE id = 1)
        OR (SELECT effect_date FROM leg WHERE document = NEW.document AND line = NEW.line AND part = NEW.part)
            <= (SELECT closed_through FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER leg_closed_update BEFORE UPDATE ON leg
    WHEN OLD.effect_date <= (SELECT closed_through FROM boundary WHERE id = 1)
        OR NEW.effect_date <= (SELECT closed_through FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER leg_closed_delete BEFORE DELETE ON leg
    WHEN OLD.effect_date <= (SELECT closed_through FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;

CREATE TRIGGER month_balance_closed_insert BEFORE INSERT ON month_balance
    WHEN NEW.month <= (SELECT substr(closed_through, 1, 7) FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER month_balance_closed_update BEFORE UPDATE ON month_balance
    WHEN OLD.month <= (SELECT substr(closed_through, 1, 7) FROM boundary WHERE id = 1)
        OR NEW.month <= (SELECT substr(closed_through, 1, 7) FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER month_balance_closed_delete BEFORE DELETE ON month_balance
    WHEN OLD.month <= (SELECT substr(closed_through, 1, 7) FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER month_total_closed_insert BEFORE INSERT ON month_total
    WHEN NEW.month <= (SELECT substr(closed_through, 1, 7) FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER month_total_closed_update BEFORE UPDATE ON month_total
    WHEN OLD.month <= (SELECT substr(closed_through, 1, 7) FROM boundary WHERE id = 1)
        OR NEW.month <= (SELECT substr(closed_through, 1, 7) FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER month_total_closed_delete BEFORE DELETE ON month_total
    WHEN OLD.month <= (SELECT substr(closed_through, 1, 7) FROM boundary WHERE id = 1)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER closed_layer_no_update BEFORE UPDATE ON closed_layer
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER closed_layer_no_delete BEFORE DELETE ON closed_layer
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;
CREATE TRIGGER closed_layer_no_replace BEFORE INSERT ON closed_layer
    WHEN EXISTS (SELECT 1 FROM closed_layer WHERE close_document = NEW.close_document
        AND lot_document = NEW.lot_document AND lot_line = NEW.lot_line AND position = NEW.position)
    BEGIN SELECT RAISE(ABORT, 'a closed month does not change'); END;

CREATE TRIGGER shop_fixed_after_use BEFORE UPDATE ON shop
    WHEN (NEW.currency <> OLD.currency OR NEW.first_month <> OLD.first_month)
        AND EXISTS (SELECT 1 FROM document)
    BEGIN SELECT RAISE(ABORT, 'currency and first month are fixed once the book holds a document'); END;
CREATE TRIGGER shop_no_delete BEFORE DELETE ON shop
    BEGIN SELECT RAISE(ABORT, 'a book always says whose it is'); END;
CREATE TRIGGER shop_no_replace BEFORE INSERT ON shop
    WHEN EXISTS (SELECT 1 FROM shop WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'a book always says whose it is'); END;

CREATE TRIGGER item_fixed_after_use BEFORE UPDATE ON item
    WHEN (NEW.kind <> OLD.kind OR NEW.tax_class <> OLD.tax_class OR NEW.base_unit <> OLD.base_unit
          OR NEW.sku <> OLD.sku)
        AND EXISTS (SELECT 1 FROM document_line WHERE sku = OLD.sku)
    BEGIN SELECT RAISE(ABORT, 'kind, tax class and base unit are fixed once an item was used'); END;
CREATE TRIGGER item_fixed_not_replaced BEFORE INSERT ON item
    WHEN EXISTS (SELECT 1 FROM item AS old WHERE old.sku = NEW.sku
            AND (old.kind <> NEW.kind OR old.tax_class <> NEW.tax_class OR old.base_unit <> NEW.base_unit))
        AND EXISTS (SELECT 1 FROM document_line WHERE sku = NEW.sku)
    BEGIN SELECT RAISE(ABORT, 'kind, tax class and base unit are fixed once an item was used'); END;
