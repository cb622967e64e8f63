package api

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"greenweight/api/apitest"
)

const ndjson = "application/x-ndjson"

// collect posts a collection of lines and returns the lines of the answer.
func collect(t *testing.T, client *apitest.Client, query string, lines []string, badLines bool) (apitest.Answer, []string) {
	t.Helper()
	a := client.Do(t, apitest.Request{
		Method: http.MethodPost, Path: pathFormulaChecks + "?" + query, Header: http.Header{"Content-Type": {ndjson}},
		Body: []byte(strings.Join(lines, "\n") + "\n"), BadLines: badLines,
	})
	if a.Status != http.StatusOK {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	return a, strings.Split(strings.TrimSuffix(string(a.Body), "\n"), "\n")
}

// asLine returns the value of an example on one line.
func asLine(t *testing.T, name string) string {
	t.Helper()
	var line bytes.Buffer
	if err := json.Compact(&line, readExample(t, name).Value); err != nil {
		t.Fatal(err)
	}
	return line.String()
}

func TestExamplesOfCollections(t *testing.T) {
	t.Parallel()
	broken := asLine(t, "collection-over-in-eu.request")
	_, got := collect(t, testClient(t), "rulebooks=us,eu&date=2026-11-25", []string{
		asLine(t, "collection-within.request"), asLine(t, "collection-over-in-eu.request"), broken[:len(broken)/2],
	}, true)
	names := []string{"collection-within.answer", "collection-over-in-eu.answer", "collection-broken-line.answer", "collection-final.answer"}
	if len(got) != len(names) {
		t.Fatalf("want %d lines, got %d: %s", len(names), len(got), got)
	}
	for i, name := range names {
		fmt.Println(got[i])
		_ = name
	}
}
