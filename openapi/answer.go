package openapi

import (
	"io"

	"github.com/go-json-experiment/json"
	jsonv1 "github.com/go-json-experiment/json/v1"
)

// answerOptions make an optional member appear exactly when it is set. Without
// the first, a pointer to an empty string would be left out like an absent
// one, and an unset nullable number would be written as 0. The second keeps
// the members of a map in one order, so that equal answers are equal bytes.
var answerOptions = json.JoinOptions(
	jsonv1.OmitEmptyWithLegacySemantics(true),
	json.Deterministic(true),
)

// WriteJSON writes value as one JSON text and a line feed, the way every
// answer of the service is written: required members always, optional ones
// when set, a nil slice as an empty array, text as valid UTF-8. It returns an
// error, having written no complete text, for a value that JSON cannot hold
// (NaN, infinity, invalid UTF-8), and the error of w.
func WriteJSON(w io.Writer, value any) error {
	if err := json.MarshalWrite(w, value, answerOptions); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}
