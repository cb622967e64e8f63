-- +goose Up

-- What lists and filters need of a lot; all of it follows from the ledger. name_folded is the name without regard to
-- case, folded by the program so that both engines agree. holds is raised by whoever holds the lot, which locks the row.
CREATE TABLE lot (
    shop_id       TEXT    NOT NULL REFERENCES shop (shop_id),
    id            TEXT    NOT NULL CHECK (id <> ''),
    number        INTEGER NOT NULL CHECK (number >= 1),
    name          TEXT    NOT NULL,
    name_folded   TEXT    NOT NULL,
    stage         TEXT    NOT NULL CHECK (stage <> ''),
    opened_us     INTEGER NOT NULL,
    recorded_us   INTEGER NOT NULL,
    head_sequence INTEGER NOT NULL DEFAULT 0 CHECK (head_sequence >= 0),
    head_digest   BLOB    NOT NULL CHECK (length(head_digest) = 32),
    holds         INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, number)
) STRICT;

-- Both end in what the list is paged by.
CREATE INDEX lot_by_opening ON lot (shop_id, opened_us DESC, id DESC);
CREATE INDEX lot_by_stage ON lot (shop_id, stage, opened_us DESC, id DESC);

-- The ledger. Nothing in it is ever changed or removed. An instant is in microseconds since 1970 in UTC; beside the one
-- that was told stands its offset from UTC in minutes. The body is the text that was posted, which the digest covers.
CREATE TABLE entry (
    shop_id             TEXT    NOT NULL,
    lot_id              TEXT    NOT NULL,
    sequence            INTEGER NOT NULL CHECK (sequence >= 1),
    kind                TEXT    NOT NULL CHECK (kind <> ''),
    happened_us         INTEGER NOT NULL,
    happened_offset_min INTEGER NOT NULL CHECK (happened_offset_min BETWEEN -1439 AND 1439),
    recorded_us         INTEGER NOT NULL,
    actor_key           TEXT    NOT NULL,
    actor_person        TEXT    NOT NULL,
    request_id          TEXT    NOT NULL,
    rulebook            TEXT    NOT NULL,
    late                INTEGER NOT NULL CHECK (late IN (0, 1)),
    doubts              TEXT    NOT NULL CHECK (doubts <> ''),
    body                TEXT    NOT NULL,
    previous_digest     BLOB    NOT NULL CHECK (length(previous_digest) = 32),
    digest              BLOB    NOT NULL CHECK (length(digest) = 32),
    PRIMARY KEY (shop_id, lot_id, sequence),
    FOREIGN KEY (shop_id, lot_id) REFERENCES lot (shop_id, id)
) STRICT;
