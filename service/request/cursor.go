package request

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"github.com/go-json-experiment/json"

	"greenweight/domain/fault"
	"greenweight/service/store"
)

// SettingCursorSecret is the name of the setting of the store that holds the
// secret which cursors are signed with, in hexadecimal digits.
const SettingCursorSecret = "cursor-secret"

const codeCursor = "invalid-cursor"

// Cursors writes and reads places in lists, signed with a secret, so that a
// place goes only where it came from.
type Cursors struct{ secret []byte }

// NewCursors returns the cursors of a store. It writes the secret to the store
// when there is none, and returns the errors of the store.
func NewCursors(ctx context.Context, st store.Store) (Cursors, error) {
	fresh := make([]byte, 32)
	if _, err := rand.Read(fresh); err != nil {
		return Cursors{}, fmt.Errorf("make the secret of cursors: %w", err)
	}
	var text string
	find := func(r store.Reader) (err error) {
		text, err = r.Setting(ctx, SettingCursorSecret)
		return err
	}
	err := st.View(ctx, find)
	if errors.Is(err, store.ErrNotFound) {
		err = st.Update(ctx, func(w store.Writer) error {
			if err := find(w); !errors.Is(err, store.ErrNotFound) {
				return err
			}
			text = hex.EncodeToString(fresh)
			return w.SetSetting(ctx, SettingCursorSecret, text)
		})
		if err == nil {
			err = st.View(ctx, find) // what won, when two began at once
		}
	}
	if err != nil {
		return Cursors{}, fmt.Errorf("read the secret of cursors: %w", err)
	}
	secret, err := hex.DecodeString(text)
	if err != nil {
		return Cursors{}, fmt.Errorf("read the secret of cursors: %w", err)
	}
	return Cursors{secret}, nil
}

// List names a list by what it is a list of, so that a cursor of another one is
// refused.
func List(of ...any) (string, error) {
	text, err := json.Marshal(of)
	if err != nil {
		return "", fmt.Errorf("name a list: %w", err)
	}
	return string(text), nil
}

// Write writes a place in a list.
func (c Cursors) Write(list string, place any) (string, error) {
	text, err := json.Marshal(place)
	if err != nil {
		return "", fmt.Errorf("write a cursor: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(text) + "." + base64.RawURLEncoding.EncodeToString(c.sign(list, text)), nil
}

func (c Cursors) sign(list string, place []byte) []byte {
	mac := hmac.New(sha256.New, c.secret)
	mac.Write([]byte(list)) // writing to a hash does not fail
	mac.Write([]byte{0})
	mac.Write(place)
	return mac.Sum(nil)[:16]
}

// Read reads a place in a list; nothing for "". It reports fault.Malformed for a
// cursor that is not one of this list.
func (c Cursors) Read(cursor, list string, place any) error {
	if cursor == "" {
		return nil
	}
	written, signature, _ := strings.Cut(cursor, ".")
	text, err := base64.RawURLEncoding.DecodeString(written)
	if err == nil {
		var given []byte
		if given, err = base64.RawURLEncoding.DecodeString(signature); err == nil && hmac.Equal(given, c.sign(list, text)) {
			return json.Unmarshal(text, place)
		}
	}
	return &fault.Error{
		Kind: fault.Malformed, Code: codeCursor,
		Detail: "the cursor is not one that this list gave out, with the same other parameters",
	}
}
