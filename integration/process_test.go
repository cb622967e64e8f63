package integration

import (
	"context"
	"errors"
	"fmt"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// patience bounds every wait of these tests. It is long, as a test that waits
// in vain has failed anyway, and the machine may be slow.
const patience = 4 * time.Minute

// output collects what a process prints and lets tests wait for a part of it.
type output struct {
	mutex   sync.Mutex
	text    strings.Builder
	changed chan struct{} // closed and renewed when text grows
}

func newOutput() *output {
	return &output{changed: make(chan struct{})}
}

// Write implements io.Writer.
func (o *output) Write(text []byte) (int, error) {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	o.text.Write(text)
	close(o.changed)
	o.changed = make(chan struct{})
	return len(text), nil
}

// read returns what was printed so far, and a channel that is closed when
// there is more.
func (o *output) read() (string, <-chan struct{}) {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	return o.text.String(), o.changed
}

// process is a started program. It is killed, with what it started itself, at
// the end of the test that started it.
type process struct {
	command *exec.Cmd
	printed *output
	ended   chan struct{} // closed when it has ended and all it printed was read
	err     error         // of Wait, once ended is closed
}

// start runs a command in a folder with settings added to the environment.
func start(t *testing.T, folder string, settings []string, name string, arguments ...string) *process {
	t.Helper()
	command := exec.CommandContext(t.Context(), name, arguments...)
	p := &process{command: command, printed: newOutput(), ended: make(chan struct{})}
	command.Dir = folder
	command.Env = append(command.Environ(), settings...)
	command.Stdout = p.printed
	command.Stderr = p.printed
	command.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // go run and a shell start the program as their child
	command.Cancel = func() error { return p.signal(syscall.SIGKILL) }
	if err := command.Start(); err != nil {
		t.Fatalf("start %s: %v", name, err)
	}
	go func() {
		p.err = command.Wait()
		close(p.ended)
	}()
	t.Cleanup(func() {
		// A child may outlive what started it; the group is gone when all of it is.
		if err := p.signal(syscall.SIGKILL); err != nil && !errors.Is(err, syscall.ESRCH) {
			t.Errorf("kill %s: %v", name, err)
		}
		<-p.ended
		if t.Failed() {
			text, _ := p.printed.read()
			t.Logf("%s %s printed:\n%s", name, strings.Join(arguments, " "), text)
		}
	})
	return p
}

// signal sends a signal to the process and its children.
func (p *process) signal(signal syscall.Signal) error {
	return syscall.Kill(-p.command.Process.Pid, signal)
}

// await waits until what was printed matches and returns the submatches.
func (p *process) await(t *testing.T, pattern *regexp.Regexp) []string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	for {
		text, changed := p.printed.read()
		if found := pattern.FindStringSubmatch(text); found != nil {
			return found
		}
		select {
		case <-changed:
		case <-p.ended:
			if text, _ := p.printed.read(); pattern.MatchString(text) {
				continue
			}
			t.Fatalf("the process ended (%v) before it printed %s", p.err, pattern)
		case <-ctx.Done():
			t.Fatalf("the process did not print %s: %v", pattern, ctx.Err())
		}
	}
}

// exit waits for the end and returns the exit code and all that was printed.
func (p *process) exit(t *testing.T) (int, string) {
	t.Helper()
	select {
	case <-p.ended:
	case <-time.After(patience):
		t.Fatal("the process did not end")
	}
	text, _ := p.printed.read()
	return p.command.ProcessState.ExitCode(), text
}

// execute runs the built program to its end.
func execute(t *testing.T, settings []string, arguments ...string) (int, string) {
	t.Helper()
	return start(t, t.TempDir(), settings, binary(t), arguments...).exit(t)
}

// shell runs a command as it is pasted into a terminal in the repository and
// returns what it printed on its standard output. It fails the test when the
// command fails.
func shell(t *testing.T, command string) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	bash := exec.CommandContext(ctx, "bash", "-euo", "pipefail", "-c", command)
	bash.Dir = root
	text, err := bash.Output()
	if err != nil {
		detail := fmt.Sprint(err)
		var failed *exec.ExitError
		if errors.As(err, &failed) {
			detail += "\n" + string(failed.Stderr)
		}
		t.Fatalf("run %s: %s\n%s", command, detail, text)
	}
	return string(text)
}
