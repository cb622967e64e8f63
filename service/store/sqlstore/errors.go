package sqlstore

import (
	"errors"
	"fmt"

	"greenweight/service/store"
)

// What opening, migrating, backing up and restoring report beside the errors of
// package store. Each is wrapped with what a person can do about it.
var (
	// ErrAddress: the DSN is in neither of the two forms, or something in it
	// can't be read.
	ErrAddress = errors.New("the address of the store can't be read")
	// ErrNoFile: there is no such file, or no folder to make it in.
	ErrNoFile = errors.New("the file of the store is not there")
	// ErrNotDatabase: the file is something else than a store of this program.
	ErrNotDatabase = errors.New("this is no store of this program")
	// ErrDamaged: the file of the store is broken.
	ErrDamaged = errors.New("the file of the store is damaged")
	// ErrOlderSchema: the store was made by an older program and must be migrated.
	ErrOlderSchema = errors.New("the store is older than this program")
	// ErrNewerSchema: the store was migrated by a newer program.
	ErrNewerSchema = errors.New("the store is newer than this program")
	// ErrFileOnly: only the file of an SQLite store can be backed up or restored
	// here; PostgreSQL has its own tools.
	ErrFileOnly = errors.New("only an SQLite store is backed up by this program")
)

// errText is what a text that one of the engines can't hold is refused with, on
// both. It is nobody's choice of words: whoever checks the input refuses it
// before.
var errText = errors.New("a text with a NUL character or invalid UTF-8 can't be stored")

// errEnded is what a Reader or Writer answers after its transaction has ended.
var errEnded = errors.New("used after its transaction ended")

// schemaFault holds the version of a store's schema against the one that this
// program needs.
func schemaFault(version, needed int64) error {
	switch {
	case version > needed:
		return fmt.Errorf("%w: its schema has version %d and this program knows up to %d; use the program that is as new as the store",
			ErrNewerSchema, version, needed)
	case version < needed:
		return fmt.Errorf("%w: its schema has version %d and this program needs %d; run `greenweight migrate`",
			ErrOlderSchema, version, needed)
	}
	return nil
}

// ownErrors are the errors of package store that tell of the store and not of
// what was asked.
var ownErrors = []error{store.ErrUnavailable, store.ErrUncertain, store.ErrFull, store.ErrReadOnly}
