package integration

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"greenweight/integration/pgtest"
)

// scratch is a folder that lives as long as the tests of this package, for the
// binary that several of them run. Its name is that of this run of the tests:
// the image of the program has it as its tag.
var scratch string

// scratchVariable tells the second process of the tests of the folder: the one
// in which pgtest.Main removes what they have left on the engine when they end
// badly. After that the folder and the image are removed there too.
const (
	scratchVariable = "INTEGRATION_SCRATCH"
	scratchPrefix   = "greenweight-"
)

func TestMain(m *testing.M) {
	os.Exit(run(m))
}

func run(m *testing.M) (code int) {
	defer func() {
		if err := errors.Join(removeImage(), os.RemoveAll(scratch)); err != nil {
			fmt.Fprintln(os.Stderr, "remove what the tests have made:", err)
			code = 1
		}
	}()
	if err := prepare(); err != nil {
		fmt.Fprintln(os.Stderr, "prepare the tests:", err)
		return 1
	}
	return pgtest.Main(m)
}

func prepare() (err error) {
	told := os.Getenv(scratchVariable) //nolint:forbidigo // set by the first process of the tests
	if strings.HasPrefix(filepath.Base(told), scratchPrefix) {
		scratch = told
		imageBegun.Store(true)
	} else if scratch, err = os.MkdirTemp("", scratchPrefix); err != nil {
		return err
	}
	return errors.Join(os.Setenv(scratchVariable, scratch), pgtest.PrepareEngine())
}

// root is the folder of the repository, seen from the folder of this package
// in which its tests run.
const root = ".."

// build makes the binary once, with the flags it is shipped with, and returns
// its path.
var build = sync.OnceValues(func() (string, error) {
	path := filepath.Join(scratch, "greenweight")
	command := exec.Command("go", "build", "-trimpath", "-ldflags=-s -w", "-o", path, "./deploy/greenweight") // shared by tests, so it ends with none of them
	command.Dir = root
	// The flags of the test run are not those of the shipped binary: a race detector cannot be linked without C.
	command.Env = append(command.Environ(), "CGO_ENABLED=0", "GOFLAGS=-buildvcs=false")
	if output, err := command.CombinedOutput(); err != nil {
		return "", fmt.Errorf("build the program: %w\n%s", err, output)
	}
	return path, nil
})

// binary returns the path of the built program.
func binary(t *testing.T) string {
	t.Helper()
	path, err := build()
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// readFile returns the text of a file of the repository.
func readFile(t *testing.T, name ...string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(append([]string{root}, name...)...))
	if err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(string(text), "\r\n", "\n")
}
