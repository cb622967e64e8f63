-- +goose Up

-- A shop owns everything else. last_lot_number counts its lots and is raised in the transaction that adds one, so that
-- no number is left out.
CREATE TABLE shop (
    shop_id         TEXT    NOT NULL PRIMARY KEY CHECK (shop_id <> ''),
    name            TEXT    NOT NULL,
    last_lot_number INTEGER NOT NULL DEFAULT 0 CHECK (last_lot_number >= 0),
    created_us      INTEGER NOT NULL
) STRICT;

-- A key is found by its hash, before its shop is known: the one thing that is unique among all shops.
CREATE TABLE access_key (
    shop_id    TEXT    NOT NULL REFERENCES shop (shop_id),
    id         TEXT    NOT NULL CHECK (id <> ''),
    name       TEXT    NOT NULL,
    person     TEXT    NOT NULL,
    scopes     TEXT    NOT NULL CHECK (scopes <> ''),
    hash       BLOB    NOT NULL CHECK (length(hash) = 32),
    created_us INTEGER NOT NULL,
    expires_us INTEGER,
    revoked_us INTEGER,
    PRIMARY KEY (shop_id, id)
) STRICT;

CREATE UNIQUE INDEX access_key_by_hash ON access_key (hash);

-- Settings of the store itself, of no shop.
CREATE TABLE setting (
    name  TEXT NOT NULL PRIMARY KEY CHECK (name <> ''),
    value TEXT NOT NULL
) STRICT;
