package boot

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"greenweight/service/shops"
	"greenweight/service/store"
	"greenweight/service/store/sqlstore"
)

// openStore opens the store of the settings. It refuses one that is only half
// filled by a move.
func openStore(ctx context.Context, cfg Config, log *slog.Logger) (*sqlstore.Store, error) {
	options := sqlstore.Options{Migrate: cfg.Migrate, Logger: log}
	if cfg.poolWanted {
		options.PoolSize = cfg.DatabasePool
	}
	st, err := sqlstore.Open(ctx, cfg.Database, options)
	if err != nil {
		return nil, naming(cfg, err)
	}
	mark, err := readMark(ctx, st)
	if err == nil && mark.unfinished() {
		err = fmt.Errorf("the move from %s into this store, begun at %s, did not come to its end; run the same `greenweight move` "+
			"again, which goes on where it stopped", mark.From, mark.BegunAt.Format(time.RFC3339))
	}
	if err != nil {
		return nil, naming(cfg, errors.Join(err, st.Close()))
	}
	return st, nil
}

// naming says which store an error is about, and by what it is named.
func naming(cfg Config, err error) error {
	switch {
	case err == nil:
		return nil
	case cfg.DatabaseFile != "":
		return fmt.Errorf("%w\n  (the store is named in the file of %sDATABASE_FILE: %s)", err, prefix, placeOf(cfg.Database))
	case cfg.databaseNamed:
		return fmt.Errorf("%w\n  (the store is named by %sDATABASE: %s)", err, prefix, placeOf(cfg.Database))
	}
	return fmt.Errorf("%w\n  (the store is %s; %sDATABASE names another)", err, placeOf(cfg.Database), prefix)
}

// prepareShops returns the service of shops and keys, with the first shop.
func prepareShops(ctx context.Context, cfg Config, st store.Store) (*shops.Service, error) {
	tenants := shops.New(st, time.Now)
	if err := tenants.Prepare(ctx); err != nil {
		return nil, naming(cfg, err)
	}
	return tenants, nil
}

// settingMove is the setting of a store that tells of a move into it.
const settingMove = "move"

// moveMark is what a store that was moved into tells of the move. The zero value
// is that of a store that never was.
type moveMark struct {
	From    string    `json:"from"`             // where that was, for people
	Source  string    `json:"source"`           // what tells the store that is moved from others
	BegunAt time.Time `json:"begun_at"`         // by the clock of whoever moved
	DoneAt  time.Time `json:"done_at,omitzero"` // zero until all is there and was compared
}

func (m moveMark) unfinished() bool { return m.Source != "" && m.DoneAt.IsZero() }

func readMark(ctx context.Context, st store.Store) (moveMark, error) {
	var mark moveMark
	err := st.View(ctx, func(r store.Reader) error {
		mark = moveMark{}
		text, err := r.Setting(ctx, settingMove)
		switch {
		case errors.Is(err, store.ErrNotFound):
			return nil
		case err != nil:
			return err
		}
		return json.Unmarshal([]byte(text), &mark)
	})
	if err != nil {
		return moveMark{}, fmt.Errorf("read whether the store was moved into: %w", err)
	}
	return mark, nil
}

func (m moveMark) write(ctx context.Context, w store.Writer) error {
	text, err := json.Marshal(m)
	if err != nil {
		return err
	}
	return w.SetSetting(ctx, settingMove, string(text))
}
