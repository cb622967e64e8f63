-- +goose Up

-- A saved formula: what lists need of its latest version. name_folded is the name without regard to case, folded by the
-- program so that both engines agree. notes counts its notes; raising it locks the row.
CREATE TABLE formula (
    shop_id       TEXT    NOT NULL REFERENCES shop (shop_id),
    id            TEXT    NOT NULL CHECK (id <> ''),
    name          TEXT    NOT NULL,
    name_folded   TEXT    NOT NULL,
    product       TEXT    NOT NULL CHECK (product <> ''),
    created_us    INTEGER NOT NULL,
    saved_us      INTEGER NOT NULL,
    last_version  INTEGER NOT NULL CHECK (last_version >= 1),
    last_digest   BLOB    NOT NULL CHECK (length(last_digest) = 32),
    notes         INTEGER NOT NULL DEFAULT 0 CHECK (notes >= 0),
    PRIMARY KEY (shop_id, id)
) STRICT;

-- Both end in what the list is paged by.
CREATE INDEX formula_by_name ON formula (shop_id, name_folded, id);
CREATE INDEX formula_by_product ON formula (shop_id, product, name_folded, id);

-- Its versions. Nothing in them is ever changed or removed. The body is the formula as it was posted, which the digest
-- covers.
CREATE TABLE formula_version (
    shop_id         TEXT    NOT NULL,
    formula_id      TEXT    NOT NULL,
    version         INTEGER NOT NULL CHECK (version >= 1),
    saved_us        INTEGER NOT NULL,
    actor_key       TEXT    NOT NULL,
    actor_person    TEXT    NOT NULL,
    request_id      TEXT    NOT NULL,
    rulebook        TEXT    NOT NULL,
    reason          TEXT    NOT NULL,
    body            TEXT    NOT NULL,
    previous_digest BLOB    NOT NULL CHECK (length(previous_digest) = 32),
    digest          BLOB    NOT NULL CHECK (length(digest) = 32),
    PRIMARY KEY (shop_id, formula_id, version),
    FOREIGN KEY (shop_id, formula_id) REFERENCES formula (shop_id, id)
) STRICT;

-- What was noted of a version later. A note is numbered within its formula.
CREATE TABLE formula_note (
    shop_id      TEXT    NOT NULL,
    formula_id   TEXT    NOT NULL,
    number       INTEGER NOT NULL CHECK (number >= 1),
    version      INTEGER NOT NULL,
    noted_us     INTEGER NOT NULL,
    actor_key    TEXT    NOT NULL,
    actor_person TEXT    NOT NULL,
    request_id   TEXT    NOT NULL,
    body         TEXT    NOT NULL,
    PRIMARY KEY (shop_id, formula_id, number),
    FOREIGN KEY (shop_id, formula_id, version) REFERENCES formula_version (shop_id, formula_id, version)
) STRICT;
