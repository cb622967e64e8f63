package integration

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// scratch is a folder that lives as long as the tests of this package, for the
// binary that several of them run.
var scratch string

func TestMain(m *testing.M) {
	os.Exit(run(m))
}

func run(m *testing.M) (code int) {
	folder, err := os.MkdirTemp("", "greenweight-")
	if err != nil {
		fmt.Fprintln(os.Stderr, "make a folder for the binary:", err)
		return 1
	}
	defer func() {
		if err := os.RemoveAll(folder); err != nil {
			fmt.Fprintln(os.Stderr, "remove the folder of the binary:", err)
			code = 1
		}
	}()
	scratch = folder
	if err := prepareEngine(); err != nil {
		fmt.Fprintln(os.Stderr, "prepare the container tests:", err)
		return 1
	}
	return m.Run()
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
