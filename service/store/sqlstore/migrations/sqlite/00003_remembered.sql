-- +goose Up

-- What was done for an idempotency key, so that the same request sent again does nothing more.
CREATE TABLE remembered (
    shop_id         TEXT    NOT NULL REFERENCES shop (shop_id),
    idempotency_key TEXT    NOT NULL CHECK (idempotency_key <> ''),
    operation       TEXT    NOT NULL,
    request_digest  BLOB    NOT NULL CHECK (length(request_digest) = 32),
    result          TEXT    NOT NULL,
    created_us      INTEGER NOT NULL,
    expires_us      INTEGER NOT NULL,
    PRIMARY KEY (shop_id, idempotency_key)
) STRICT;

CREATE INDEX remembered_by_expiry ON remembered (shop_id, expires_us);
