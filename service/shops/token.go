package shops

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"io"
	"log/slog"
	"strings"
)

const (
	// tokenPrefix begins every key, so that people and scanners for leaked secrets
	// know one when they see it.
	tokenPrefix = "gwk_"
	// tokenBytes is how much of a key is random: 256 bits can't be guessed, so that
	// a plain hash is enough to keep it by.
	tokenBytes = 32
	// hidden stands in the place of a key wherever one would be printed.
	hidden = "(a key, not shown)"
)

// tokenText is how the random bytes are written. It is strict, so that no two
// texts stand for the same key.
var tokenText = base64.RawURLEncoding.Strict()

// Token is a key as its holder sends it. It is a secret that is kept nowhere:
// whoever made it reads it with Reveal and hands it over. Printed, logged or
// written as JSON it does not show.
type Token struct{ text *string } // a pointer, because fmt does not ask fields that are not exported for their methods

// newToken returns a new key.
func newToken() Token {
	random := make([]byte, tokenBytes)
	_, _ = rand.Read(random) // it ends the program rather than fail
	text := tokenPrefix + tokenText.EncodeToString(random)
	return Token{&text}
}

// Reveal returns the text of the key; "" for the zero value.
func (t Token) Reveal() string {
	if t.text == nil {
		return ""
	}
	return *t.text
}

// String does not show the key.
func (Token) String() string { return hidden }

// Format does not show the key, whatever the verb.
func (Token) Format(state fmt.State, _ rune) { _, _ = io.WriteString(state, hidden) }

// LogValue does not show the key.
func (Token) LogValue() slog.Value { return slog.StringValue(hidden) }

// MarshalJSON does not show the key.
func (Token) MarshalJSON() ([]byte, error) { return []byte(`"` + hidden + `"`), nil }

// MarshalText does not show the key.
func (Token) MarshalText() ([]byte, error) { return []byte(hidden), nil }

// hashOf returns what a key is kept by, and whether the text has the form of a
// key at all.
func hashOf(text string) (hash [32]byte, ok bool) {
	encoded, ok := strings.CutPrefix(text, tokenPrefix)
	if !ok || len(encoded) != tokenText.EncodedLen(tokenBytes) || strings.ContainsAny(encoded, "\r\n") { // line breaks are skipped in decoding
		return hash, false
	}
	if random, err := tokenText.DecodeString(encoded); err != nil || len(random) != tokenBytes {
		return hash, false
	}
	return sha256.Sum256([]byte(text)), true
}
