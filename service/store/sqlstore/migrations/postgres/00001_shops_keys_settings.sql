-- +goose Up

-- Ids are ordered by their bytes (COLLATE "C"), as on the other engine.

-- A shop owns everything else. last_lot_number counts its lots and is raised in the transaction that adds one, so that
-- no number is left out.
CREATE TABLE shop (
    shop_id         TEXT COLLATE "C" NOT NULL PRIMARY KEY CHECK (shop_id <> ''),
    name            TEXT             NOT NULL,
    last_lot_number BIGINT           NOT NULL DEFAULT 0 CHECK (last_lot_number >= 0),
    created_us      BIGINT           NOT NULL
);

-- A key is found by its hash, before its shop is known: the one thing that is unique among all shops.
CREATE TABLE access_key (
    shop_id    TEXT COLLATE "C" NOT NULL REFERENCES shop (shop_id),
    id         TEXT COLLATE "C" NOT NULL CHECK (id <> ''),
    name       TEXT             NOT NULL,
    person     TEXT             NOT NULL,
    scopes     TEXT             NOT NULL CHECK (scopes <> ''),
    hash       BYTEA            NOT NULL CHECK (octet_length(hash) = 32),
    created_us BIGINT           NOT NULL,
    expires_us BIGINT,
    revoked_us BIGINT,
    PRIMARY KEY (shop_id, id)
);

CREATE UNIQUE INDEX access_key_by_hash ON access_key (hash);

-- Settings of the store itself, of no shop.
CREATE TABLE setting (
    name  TEXT COLLATE "C" NOT NULL PRIMARY KEY CHECK (name <> ''),
    value TEXT             NOT NULL
);
