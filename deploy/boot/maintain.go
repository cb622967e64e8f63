package boot

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"greenweight/service/store/sqlstore"
)

// migrate brings the store of the settings up to this program.
func (c call) migrate(ctx context.Context, args []string) error {
	if _, err := parse(newFlags("migrate"), args, 0); err != nil {
		return err
	}
	cfg, err := ReadConfig(c.environ)
	if err != nil {
		return err
	}
	from, to, err := sqlstore.Migrate(ctx, cfg.Database)
	if err != nil {
		return naming(cfg, err)
	}
	if from == to {
		return printTo(c.stdout, fmt.Sprintf("version %d of the schema, which is up to date (%s)\n", to, placeOf(cfg.Database)))
	}
	return printTo(c.stdout, fmt.Sprintf("version %d of the schema, from version %d (%s)\n", to, from, placeOf(cfg.Database)))
}

// backup copies the store into a file and verifies the ledgers there.
func (c call) backup(ctx context.Context, args []string) error {
	flags := newFlags("backup")
	to := flags.String("to", "", "")
	if _, err := parse(flags, args, 0); err != nil {
		return err
	}
	if *to == "" {
		return &usageError{"backup needs --to with the path of the copy"}
	}
	cfg, err := ReadConfig(c.environ)
	if err != nil {
		return err
	}
	if err := sqlstore.Backup(ctx, cfg.Database, *to); err != nil {
		return naming(cfg, err)
	}
	found, err := verifyFile(ctx, *to, filepath.Dir(*to))
	if err != nil {
		return fmt.Errorf("the copy is in %s, but: %w", *to, err)
	}
	return printTo(c.stdout, fmt.Sprintf("%s: %s, all of them verified\n", *to, found.ledgers()))
}

// restore verifies a copy and makes the store of it.
func (c call) restore(ctx context.Context, args []string) error {
	flags := newFlags("restore")
	from := flags.String("from", "", "")
	if _, err := parse(flags, args, 0); err != nil {
		return err
	}
	if *from == "" {
		return &usageError{"restore needs --from with the path of the copy"}
	}
	cfg, err := ReadConfig(c.environ)
	if err != nil {
		return err
	}
	var found tally
	if path, isFile := strings.CutPrefix(cfg.Database, "sqlite:"); isFile {
		if found, err = verifyFile(ctx, *from, filepath.Dir(path)); err != nil {
			return fmt.Errorf("nothing was restored: %w", naming(cfg, err))
		}
	}
	if err := sqlstore.Restore(ctx, *from, cfg.Database); err != nil {
		return naming(cfg, err)
	}
	return printTo(c.stdout, fmt.Sprintf("%s: %s, all of them verified\n", placeOf(cfg.Database), found.ledgers()))
}

// verifyFile verifies the ledgers of a copy. It looks at a copy of the copy, in a
// folder in which it may write: to look at a store is to leave files beside it,
// and one of an older program has to be brought up to this one before its entries
// can be read.
func verifyFile(ctx context.Context, path, within string) (found tally, err error) {
	folder, err := os.MkdirTemp(within, ".greenweight-verify-")
	if err != nil {
		return tally{}, fmt.Errorf("make a folder to verify the copy in: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	scratch := "sqlite:" + filepath.Join(folder, "copy.db")
	if err := sqlstore.Restore(ctx, path, scratch); err != nil {
		return tally{}, fmt.Errorf("verify the copy: %w", err)
	}
	st, err := sqlstore.Open(ctx, scratch, sqlstore.Options{Migrate: true})
	if err != nil {
		return tally{}, fmt.Errorf("verify the copy: %w", err)
	}
	found, err = verifyStore(ctx, st)
	return found, errors.Join(err, st.Close())
}
