package integration

import (
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// defaultAddress is what the program listens on when nothing is set, and what
// the commands of README.md ask.
const defaultAddress = "127.0.0.1:8080"

// docsURL is printed by the program as soon as it answers.
var docsURL = regexp.MustCompile(`http://([0-9.]+:[0-9]+)/docs\b`)

// exchange is a command of the quick start with the answer shown below it.
type exchange struct {
	line    int
	command string
	answer  string
}

// readme is what README.md has for a machine to read: each block of code after
// a mark on a line of its own.
//
//	<!-- command: run -->    the command that starts the service
//	<!-- command: test -->   the command that runs all tests; .ci/run runs it
//	<!-- run -->             a command of the quick start
//	<!-- answer -->          what the service answers to the command above
type readme struct {
	commands  map[string]string
	exchanges []exchange
}

var readmeMark = regexp.MustCompile(`^<!-- (?:command: ([a-z-]+)|(run|answer)) -->$`)

// readReadme reads the marked blocks. It is an error when a mark has no block
// directly below it, a command has no answer, or an answer no command: then
// something that looks checked would not be.
func readReadme(text string) (readme, error) {
	found := readme{commands: map[string]string{}}
	lines := strings.Split(text, "\n")
	for i := 0; i < len(lines); i++ {
		mark := readmeMark.FindStringSubmatch(lines[i])
		if mark == nil {
			if strings.Contains(lines[i], "<!-- run") || strings.Contains(lines[i], "<!-- answer") || strings.Contains(lines[i], "<!-- command") {
				return readme{}, fmt.Errorf("line %d: %q is no mark", i+1, lines[i])
			}
			continue
		}
		line := i + 1
		block, end, err := readBlock(lines, i+1)
		if err != nil {
			return readme{}, err
		}
		i = end
		unanswered := len(found.exchanges) > 0 && found.exchanges[len(found.exchanges)-1].answer == ""
		switch {
		case mark[1] != "":
			found.commands[mark[1]] = block
		case mark[2] == "run" && unanswered:
			return readme{}, fmt.Errorf("line %d: the command above has no answer", line)
		case mark[2] == "run":
			found.exchanges = append(found.exchanges, exchange{line: line, command: block})
		case unanswered:
			found.exchanges[len(found.exchanges)-1].answer = block
		default:
			return readme{}, fmt.Errorf("line %d: an answer without a command", line)
		}
	}
	if len(found.exchanges) == 0 {
		return readme{}, errors.New("no command is marked to be run")
	}
	if found.exchanges[len(found.exchanges)-1].answer == "" {
		return readme{}, errors.New("the last command has no answer")
	}
	return found, nil
}

// readBlock returns the fenced code that begins at a line, and the line of its
// end.
func readBlock(lines []string, begin int) (string, int, error) {
	if begin >= len(lines) || !strings.HasPrefix(lines[begin], "```") {
		return "", 0, fmt.Errorf("line %d: no code block below the mark", begin)
	}
	for end := begin + 1; end < len(lines); end++ {
		if lines[end] == "```" {
			block := strings.Join(lines[begin+1:end], "\n")
			if strings.TrimSpace(block) == "" {
				return "", 0, fmt.Errorf("line %d: an empty code block", begin+1)
			}
			return block, end, nil
		}
	}
	return "", 0, fmt.Errorf("line %d: the code block does not end", begin+1)
}

// The commands of README.md do what it says: the service is started with its
// command, each command of the quick start is run as it is pasted, and the
// answer must have all that the file shows.
func TestReadme(t *testing.T) { //nolint:tparallel // a later command may use what an earlier one made
	t.Parallel()

	found, err := readReadme(readFile(t, "README.md"))
	if err != nil {
		t.Fatalf("README.md: %v", err)
	}
	for _, name := range []string{"run", "test"} {
		if found.commands[name] == "" {
			t.Fatalf("README.md has no block marked <!-- command: %s -->", name)
		}
	}

	// The flags of the test run are not the reader's, and his records are none yet.
	settings := []string{"GOFLAGS=-buildvcs=false", "GREENWEIGHT_DATABASE=sqlite:" + filepath.Join(t.TempDir(), "greenweight.db")}
	moved := taken(t, defaultAddress)
	if moved {
		settings = append(settings, "GREENWEIGHT_LISTEN=127.0.0.1:0")
	}
	service := start(t, root, settings, "bash", "-euo", "pipefail", "-c", found.commands["run"])
	address := service.await(t, docsURL)[1]
	if !moved && address != defaultAddress {
		t.Errorf("the service listens on %s, not on %s", address, defaultAddress)
	}

	for _, exchange := range found.exchanges {
		t.Run(fmt.Sprintf("line %d", exchange.line), func(t *testing.T) {
			command := strings.ReplaceAll(exchange.command, defaultAddress, address)
			command = strings.ReplaceAll(command, strings.Replace(defaultAddress, "127.0.0.1", "localhost", 1), address)
			printed := shell(t, command)
			shown, err := readShown(exchange.answer)
			if err != nil {
				t.Fatal(err)
			}
			answer, err := readAnswer(printed)
			if err != nil {
				t.Fatal(err)
			}
			for _, difference := range differences("", shown, answer) {
				t.Error(difference)
			}
			if t.Failed() {
				t.Logf("%s\nanswered:\n%s", command, printed)
			}
		})
	}
}

// taken says whether something else listens on the address.
func taken(t *testing.T, address string) bool {
	t.Helper()
	dialer := net.Dialer{Timeout: time.Second}
	connection, err := dialer.DialContext(t.Context(), "tcp", address)
	if err != nil {
		return false
	}
	if err := connection.Close(); err != nil {
		t.Fatal(err)
	}
	return true
}

func TestReadReadme(t *testing.T) {
	t.Parallel()

	const (
		start  = "<!-- command: run -->\n```sh\ngo run .\n```\n"
		run    = "<!-- run -->\n```sh\ncurl a\n```\n"
		answer = "<!-- answer -->\n```json\n{}\n```\n"
	)
	good := []struct {
		name, text string
		want       int
	}{
		{"one exchange", start + run + answer, 1},
		{"text between", start + "so\n" + run + "\nanswers\n\n" + answer + run + answer, 2},
		{"blocks without a mark", "```sh\nrm\n```\n" + start + run + answer, 1},
	}
	for _, test := range good {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			found, err := readReadme(test.text)
			if err != nil {
				t.Fatal(err)
			}
			if len(found.exchanges) != test.want || found.commands["run"] != "go run ." {
				t.Errorf("read %+v", found)
			}
			for _, exchange := range found.exchanges {
				if exchange.command != "curl a" || exchange.answer != "{}" {
					t.Errorf("read %+v", exchange)
				}
			}
		})
	}
	bad := []struct{ name, text string }{
		{"nothing to run", start},
		{"no answer", run},
		{"no answer before the next", run + run + answer},
		{"no command", run + answer + answer},
		{"no block", "<!-- run -->\n\n```sh\ncurl a\n```\n" + answer},
		{"an empty block", "<!-- run -->\n```sh\n```\n" + answer},
		{"an open block", "<!-- run -->\n```sh\ncurl a\n"},
		{"a misspelt mark", run + answer + "<!-- run: -->\n```sh\ncurl a\n```\n"},
	}
	for _, test := range bad {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			if found, err := readReadme(test.text); err == nil {
				t.Errorf("read %+v, want an error", found)
			}
		})
	}
}
