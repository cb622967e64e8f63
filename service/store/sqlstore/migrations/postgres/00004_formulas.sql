-- +goose Up

-- A saved formula: what lists need of its latest version. name_folded is the name without regard to case, folded by the
-- program so that both engines agree. notes counts its notes; raising it locks the row.
CREATE TABLE formula (
    shop_id         TEXT COLLATE "C" NOT NULL REFERENCES shop (shop_id),
    id              TEXT COLLATE "C" NOT NULL CHECK (id <> ''),
    name            TEXT             NOT NULL,
    name_folded     TEXT COLLATE "C" NOT NULL,
    product         TEXT COLLATE "C" NOT NULL CHECK (product <> ''),
    created_us      BIGINT           NOT NULL,
    saved_us        BIGINT           NOT NULL,
    last_version    BIGINT           NOT NULL CHECK (last_version >= 1),
    last_digest     BYTEA            NOT NULL CHECK (octet_length(last_digest) = 32),
    notes           BIGINT           NOT NULL DEFAULT 0 CHECK (notes >= 0),
    PRIMARY KEY (shop_id, id)
);

-- Both end in what the list is paged by.
CREATE INDEX formula_by_name ON formula (shop_id, name_folded, id);
CREATE INDEX formula_by_product ON formula (shop_id, product, name_folded, id);

-- Its versions. Nothing in them is ever changed or removed. The body is the formula as it was posted, which the digest
-- covers.
CREATE TABLE formula_version (
    shop_id         TEXT COLLATE "C" NOT NULL,
    formula_id      TEXT COLLATE "C" NOT NULL,
    version         BIGINT           NOT NULL CHECK (version >= 1),
    saved_us        BIGINT           NOT NULL,
    actor_key       TEXT             NOT NULL,
    actor_person    TEXT             NOT NULL,
    request_id      TEXT             NOT NULL,
    rulebook        TEXT             NOT NULL,
    reason          TEXT             NOT NULL,
    body            TEXT             NOT NULL,
    previous_digest BYTEA            NOT NULL CHECK (octet_length(previous_digest) = 32),
    digest          BYTEA            NOT NULL CHECK (octet_length(digest) = 32),
    PRIMARY KEY (shop_id, formula_id, version),
    FOREIGN KEY (shop_id, formula_id) REFERENCES formula (shop_id, id)
);

-- What was noted of a version later. A note is numbered within its formula.
CREATE TABLE formula_note (
    shop_id         TEXT COLLATE "C" NOT NULL,
    formula_id      TEXT COLLATE "C" NOT NULL,
    number          BIGINT           NOT NULL CHECK (number >= 1),
    version         BIGINT           NOT NULL,
    noted_us        BIGINT           NOT NULL,
    actor_key       TEXT             NOT NULL,
    actor_person    TEXT             NOT NULL,
    request_id      TEXT             NOT NULL,
    body            TEXT             NOT NULL,
    PRIMARY KEY (shop_id, formula_id, number),
    FOREIGN KEY (shop_id, formula_id, version) REFERENCES formula_version (shop_id, formula_id, version)
);
