// Package entries reads the files that the backtests measure by: JSON lists of
// entries of many kinds, of which each backtest takes its own.
package entries

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"
)

// Count says what was found in a file.
type Count struct {
	Name    string         `json:"name"`
	Entries int            `json:"entries"`
	Series  int            `json:"series"`
	Skipped map[string]int `json:"skipped"` // by reason
}

// Read reads a JSON list and hands each entry to take, which returns the id of
// the entry, as far as it can be read, and why it skips it, empty when it does
// not. An error names the file and, within the list, the index, counted from 0,
// and the id of the entry.
func Read(file string, in io.Reader, take func(json.RawMessage) (id, skipped string, err error)) (Count, error) {
	count := Count{Name: file, Skipped: map[string]int{}}
	fail := func(err error) (Count, error) { return Count{}, fmt.Errorf("%s: %w", file, err) }
	decoder := json.NewDecoder(in)
	first, err := decoder.Token()
	if err != nil {
		return fail(fmt.Errorf("not a JSON list: %w", err))
	}
	if first != json.Delim('[') {
		return fail(errors.New("not a JSON list"))
	}
	last := "none"
	for decoder.More() {
		index := count.Entries
		var raw json.RawMessage
		if err := decoder.Decode(&raw); err != nil {
			return fail(fmt.Errorf("entry %d (the one after id %q): not JSON: %w", index, last, err))
		}
		count.Entries++
		id, skipped, err := take(raw)
		last = id
		switch {
		case err != nil:
			return fail(fmt.Errorf("entry %d, id %q: %w", index, id, err))
		case skipped != "":
			count.Skipped[skipped]++
		default:
			count.Series++
		}
	}
	if _, err := decoder.Token(); err != nil {
		return fail(fmt.Errorf("the list does not end: %w", err))
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return fail(errors.New("something stands after the list"))
	}
	return count, nil
}

type fileList []string

func (l *fileList) String() string     { return strings.Join(*l, " ") }
func (l *fileList) Set(s string) error { *l = append(*l, s); return nil }

// Flags parses flags and the files of --series in any order: a name without a
// flag is one more file, and flags may follow it. The caller prints the error
// with the usage; it is flag.ErrHelp where that alone was asked for.
func Flags(flags *flag.FlagSet, args []string) ([]string, error) {
	var files fileList
	flags.SetOutput(io.Discard)
	flags.Var(&files, "series", "")
	for {
		if err := flags.Parse(args); err != nil {
			return nil, err
		}
		if flags.NArg() == 0 {
			return files, nil
		}
		files = append(files, flags.Arg(0))
		args = flags.Args()[1:]
	}
}

// File opens a file that the user of the command names.
func File(name string) (io.Reader, error) {
	text, err := os.ReadFile(name) //nolint:gosec // the file that the user of this command names
	if err != nil {
		return nil, err
	}
	return bytes.NewReader(text), nil
}

// IsObject reports whether a member is a JSON object.
func IsObject(raw json.RawMessage) bool { return bytes.HasPrefix(bytes.TrimSpace(raw), []byte("{")) }

// IsList reports whether a member is a JSON list.
func IsList(raw json.RawMessage) bool { return bytes.HasPrefix(bytes.TrimSpace(raw), []byte("[")) }

// Optional reads a member that may be absent.
func Optional(raw json.RawMessage, into any) error {
	if len(raw) == 0 {
		return nil
	}
	return json.Unmarshal(raw, into)
}

// Where a source turns from the paper to a place in it, and names that a paper
// may go by when it does not.
var (
	placeInPaper = regexp.MustCompile(`(?i)[,;:]?\s+\(?\b(tables?|tab\.|figures?|fig\.|sections?|sec\.|appendix|supplement)\s`)
	digitalID    = regexp.MustCompile(`(?i)\b10\.\d{4,9}/[^\s,;)\]]+|\bPMC\d+`)
	bracketed    = regexp.MustCompile(`\s*\([^()]*\)\s*$`)
	spaces       = regexp.MustCompile(`\s+`)
)

// Study returns the name of the paper that a source is from, so that all series
// of one paper are known to belong together: the text before the first ", table"
// or another place in the paper; without one, the first DOI or PMC number;
// without that, the whole text less a remark in brackets at its end. Of a
// computed series it is the text before the first comma, whatever else it says:
// all series computed in one way are one study.
func Study(source string) string {
	text := strings.TrimSpace(spaces.ReplaceAllString(source, " "))
	if Synthetic(text) {
		before, _, _ := strings.Cut(text, ",")
		return before
	}
	if at := placeInPaper.FindStringIndex(text); at != nil && at[0] > 0 {
		return strings.TrimSpace(text[:at[0]])
	}
	if id := digitalID.FindString(text); id != "" {
		return strings.ToLower(strings.TrimRight(id, "."))
	}
	return bracketed.ReplaceAllString(text, "")
}

// Synthetic reports whether a source says that the series was computed.
func Synthetic(source string) bool {
	const word = "SYNTHETIC"
	text := strings.TrimSpace(source)
	return len(text) >= len(word) && strings.EqualFold(text[:len(word)], word)
}
