package apitest

import (
	"flag"
	"fmt"
	"maps"
	"os"
	"slices"
	"strconv"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
)

// ledger counts what the tests of a binary have reached.
type ledger struct {
	mu       sync.Mutex
	answers  map[string]int // "GET /livez 200": each answer that the contract names, and how often it came
	problems map[string]int // by slug
}

var account ledger

// know enters every answer of success, and every other that has a status of its
// own, of every operation, as not reached yet.
func (l *ledger) know(document *openapi3.T) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.answers = make(map[string]int)
	for path, item := range document.Paths.Map() {
		for method, operation := range item.Operations() {
			for status := range operation.Responses.Map() {
				l.answers[method+" "+path+" "+status] = 0
			}
		}
	}
}

// enter counts an answer. An operation of "" is none of the contract.
func (l *ledger) enter(operation string, a Answer) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.problems == nil {
		l.problems = make(map[string]int)
	}
	if a.Problem != nil {
		l.problems[slugOf(a.Problem.Type)]++
	}
	if operation == "" {
		return
	}
	key := operation + " " + strconv.Itoa(a.Status)
	if _, own := l.answers[key]; !own {
		key = operation + " default"
	}
	l.answers[key]++
}

// missing returns what was not reached: answers of operations, then problem
// types. The default answer of an operation, which stands for any problem, is
// not asked for.
func (l *ledger) missing(slugs []string) []string {
	l.mu.Lock()
	defer l.mu.Unlock()
	var missing []string
	for _, key := range slices.Sorted(maps.Keys(l.answers)) {
		if l.answers[key] == 0 && !isDefault(key) {
			missing = append(missing, "answer "+key)
		}
	}
	for _, slug := range slugs {
		if l.problems[slug] == 0 {
			missing = append(missing, "problem type "+slug)
		}
	}
	for _, slug := range slices.Sorted(maps.Keys(l.problems)) {
		if !slices.Contains(slugs, slug) {
			missing = append(missing, "a page for the problem type "+slug)
		}
	}
	return missing
}

func isDefault(key string) bool {
	const suffix = " default"
	return len(key) > len(suffix) && key[len(key)-len(suffix):] == suffix
}

// Main runs the tests and returns the exit code for TestMain. When they have
// passed, it fails if an operation of the contract was not answered with each
// status that the contract gives it, or a problem type of the service was not
// met. A run of some of the tests only (-run, -skip, -list, -fuzz, -bench) is not
// held to that.
func Main(m *testing.M, slugs []string) int {
	code := m.Run()
	if code != 0 || !whole() {
		return code
	}
	if _, err := theOracle(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	missing := account.missing(slugs)
	for _, what := range missing {
		fmt.Fprintln(os.Stderr, "no test has reached: "+what)
	}
	if len(missing) > 0 {
		return 1
	}
	return 0
}

// whole tells whether every test of the binary was run.
func whole() bool {
	for _, name := range []string{"test.run", "test.skip", "test.list", "test.fuzz", "test.bench"} {
		if f := flag.Lookup(name); f != nil && f.Value.String() != "" {
			return false
		}
	}
	return true
}
