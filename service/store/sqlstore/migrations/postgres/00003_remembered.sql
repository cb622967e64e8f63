-- +goose Up

-- What was done for an idempotency key, so that the same request sent again does nothing more.
CREATE TABLE remembered (
    shop_id         TEXT COLLATE "C" NOT NULL REFERENCES shop (shop_id),
    idempotency_key TEXT COLLATE "C" NOT NULL CHECK (idempotency_key <> ''),
    operation       TEXT             NOT NULL,
    request_digest  BYTEA            NOT NULL CHECK (octet_length(request_digest) = 32),
    result          TEXT             NOT NULL,
    created_us      BIGINT           NOT NULL,
    expires_us      BIGINT           NOT NULL,
    PRIMARY KEY (shop_id, idempotency_key)
);

CREATE INDEX remembered_by_expiry ON remembered (shop_id, expires_us);
