package boot

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"text/tabwriter"
	"time"

	"greenweight/domain/fault"
	"greenweight/service/shops"
	"greenweight/service/store"
)

// keys runs the commands on shops and keys. They need no service that runs, and
// do no harm to one: both open the store.
func (c call) keys(ctx context.Context, args []string) error {
	if len(args) == 0 {
		return &usageError{"keys needs a command: add, list, revoke, shops or add-shop"}
	}
	command, args := args[0], args[1:]
	switch command {
	case "add":
		return c.addKey(ctx, args)
	case "list":
		return c.listKeys(ctx, args)
	case "revoke":
		return c.revokeKey(ctx, args)
	case "shops":
		return c.listShops(ctx, args)
	case "add-shop":
		return c.addShop(ctx, args)
	case "help", "-h", "-help", "--help":
		return printTo(c.stdout, usage)
	}
	return &usageError{fmt.Sprintf("there is no command keys %q", command)}
}

// withShops opens the store of the settings for a command. Only one that adds
// something makes a store where there is none: a misspelt address should not look
// like a store without keys.
func (c call) withShops(ctx context.Context, adds bool, do func(tenants *shops.Service, place string) error) error {
	cfg, err := ReadConfig(c.environ)
	if err != nil {
		return err
	}
	cfg.Migrate = cfg.Migrate && adds
	st, err := openStore(ctx, cfg, slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	tenants, err := prepareShops(ctx, cfg, st)
	if err == nil {
		err = plain(do(tenants, placeOf(cfg.Database)))
	}
	return errors.Join(err, st.Close())
}

// plain writes a fault as people who type commands read it: a member is a flag.
func plain(err error) error {
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		return err
	}
	lines := []string{f.Detail}
	for _, v := range f.Violations {
		lines = append(lines, v.Detail)
	}
	return errors.New(strings.Join(lines, "\n  "))
}

// shopFlag names the shop that a command is about.
const shopFlag = "shop"

func (c call) addKey(ctx context.Context, args []string) error {
	flags := newFlags("keys add")
	shop := flags.String(shopFlag, string(store.FirstShop), "")
	name := flags.String("name", "", "")
	person := flags.String("person", "", "")
	scopes := flags.String("scopes", "", "")
	expires := flags.Duration("expires", 0, "")
	if _, err := parse(flags, args, 0); err != nil {
		return err
	}
	order := shops.KeyOrder{Shop: store.ShopID(*shop), Name: *name, Person: *person, Scopes: shops.Scopes()}
	if *scopes != "" {
		order.Scopes = nil
		for word := range strings.SplitSeq(*scopes, ",") {
			order.Scopes = append(order.Scopes, shops.Scope(strings.TrimSpace(word)))
		}
	}
	if *expires != 0 {
		order.ExpiresAt = time.Now().Add(*expires)
	}
	return c.withShops(ctx, true, func(tenants *shops.Service, place string) error {
		key, token, err := tenants.AddKey(ctx, order)
		if errors.Is(err, store.ErrUncertain) {
			return fmt.Errorf("%w; see with `greenweight keys list` whether there is a key of this name, and revoke it", err)
		}
		if err != nil {
			return err
		}
		if err := printTo(c.stdout, token.Reveal()+"\n"); err != nil {
			return fmt.Errorf("the key %s was made but could not be printed, and nobody will see it again; revoke it: %w", key.ID, err)
		}
		return c.say("That is the key %s, in %s. It acts for shop %s in the name of %s, may do %s, and %s. It is shown this once. "+
			"Send it with each request:\n  Authorization: Bearer gwk_...",
			key.ID, place, key.Shop, key.Person, strings.Join(key.Scopes, ", "), expiry(key.ExpiresAt))
	})
}

func expiry(at time.Time) string {
	if at.IsZero() {
		return "does not expire"
	}
	return "expires at " + at.Format(time.RFC3339)
}

func (c call) listKeys(ctx context.Context, args []string) error {
	flags := newFlags("keys list")
	shop := flags.String(shopFlag, string(store.FirstShop), "")
	if _, err := parse(flags, args, 0); err != nil {
		return err
	}
	return c.withShops(ctx, false, func(tenants *shops.Service, _ string) error {
		keys, err := tenants.Keys(ctx, store.ShopID(*shop))
		if err != nil {
			return err
		}
		rows := [][]string{{"ID", "PERSON", "NAME", "SCOPES", "MADE", "STATE"}}
		for _, key := range keys {
			rows = append(rows, []string{
				string(key.ID), key.Person, key.Name, strings.Join(key.Scopes, ","), key.CreatedAt.Format(time.RFC3339), keyState(key, time.Now()),
			})
		}
		return c.table(rows)
	})
}

// keyState says whether a key lets its holder in.
func keyState(key store.Key, now time.Time) string {
	switch {
	case !key.RevokedAt.IsZero():
		return "revoked at " + key.RevokedAt.Format(time.RFC3339)
	case key.ExpiresAt.IsZero():
		return "good"
	case now.Before(key.ExpiresAt):
		return "good until " + key.ExpiresAt.Format(time.RFC3339)
	}
	return "expired at " + key.ExpiresAt.Format(time.RFC3339)
}

func (c call) revokeKey(ctx context.Context, args []string) error {
	flags := newFlags("keys revoke")
	shop := flags.String(shopFlag, string(store.FirstShop), "")
	ids, err := parse(flags, args, 1)
	if err != nil {
		return err
	}
	if len(ids) == 0 {
		return &usageError{"keys revoke needs the id of a key, which `greenweight keys list` tells"}
	}
	return c.withShops(ctx, false, func(tenants *shops.Service, _ string) error {
		if err := tenants.Revoke(ctx, store.ShopID(*shop), store.KeyID(ids[0])); err != nil {
			return err
		}
		return c.say("The key %s lets nobody in any more.", ids[0])
	})
}

func (c call) listShops(ctx context.Context, args []string) error {
	if _, err := parse(newFlags("keys shops"), args, 0); err != nil {
		return err
	}
	return c.withShops(ctx, false, func(tenants *shops.Service, _ string) error {
		all, err := tenants.Shops(ctx)
		if err != nil {
			return err
		}
		rows := [][]string{{"ID", "NAME", "MADE"}}
		for _, shop := range all {
			rows = append(rows, []string{string(shop.ID), shop.Name, shop.CreatedAt.Format(time.RFC3339)})
		}
		return c.table(rows)
	})
}

func (c call) addShop(ctx context.Context, args []string) error {
	flags := newFlags("keys add-shop")
	name := flags.String("name", "", "")
	if _, err := parse(flags, args, 0); err != nil {
		return err
	}
	return c.withShops(ctx, true, func(tenants *shops.Service, place string) error {
		shop, err := tenants.AddShop(ctx, *name)
		if err != nil {
			return err
		}
		if err := printTo(c.stdout, string(shop.ID)+"\n"); err != nil {
			return err
		}
		return c.say("That is the shop %q, in %s. Make its first key with: greenweight keys add --shop %s --person ... --name ...", shop.Name, place, shop.ID)
	})
}

// table prints rows in columns.
func (c call) table(rows [][]string) error {
	w := tabwriter.NewWriter(c.stdout, 0, 0, 2, ' ', 0)
	for _, row := range rows {
		if err := printTo(w, strings.Join(row, "\t")+"\n"); err != nil {
			return err
		}
	}
	return w.Flush()
}
