package integration

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/moby/moby/api/types/container"
	"github.com/moby/moby/api/types/network"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/wait"

	"greenweight/api/apitest"
	"greenweight/integration/pgtest"
	"greenweight/openapi"
)

// databaseHost is the name of the database on the network of a site.
const databaseHost = "database"

// answerWithin bounds the wait for one answer, where a service may take its
// usual 15 s. What takes longer hangs.
const answerWithin = 25 * time.Second

// site is a network with a database, and what runs there of the image.
type site struct {
	network *testcontainers.DockerNetwork
	dsn     string // of the database, on the network
	key     string // that requests are sent with; without for ""
}

// newSite makes a network with an empty PostgreSQL on it.
func newSite(ctx context.Context, t *testing.T) (*site, *pgtest.Server) {
	t.Helper()
	private := pgtest.NewNetwork(ctx, t)
	database := pgtest.Run(ctx, t, pgtest.Options{Network: private, Alias: databaseHost})
	return &site{network: private, dsn: database.NetworkDSN()}, database
}

// contain runs the image on the network, with settings beside the database. The
// containers show no secret in what they print. It may be called from any
// goroutine.
func (s *site) contain(ctx context.Context, t *testing.T, settings map[string]string, more ...testcontainers.ContainerCustomizer) (testcontainers.Container, error) {
	t.Helper()
	all := map[string]string{"GREENWEIGHT_DATABASE": s.dsn, "GREENWEIGHT_LOG_LEVEL": "debug"}
	maps.Copy(all, settings)
	contained, err := contain(ctx, t, s.network, all, more...)
	if contained == nil {
		return nil, err
	}
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(t.Context()), time.Minute)
		defer cancel()
		stdout, stderr, err := printedBy(ctx, contained)
		if err != nil {
			t.Error(err)
		}
		for what, secret := range s.secrets() {
			if strings.Contains(stdout+stderr, secret) && stdout != secret+"\n" { // but for the command that makes a key
				t.Errorf("the container %s prints %s", contained.GetContainerID(), what)
			}
		}
	})
	return contained, err
}

// secrets returns what nobody may read in a log.
func (s *site) secrets() map[string]string {
	found := map[string]string{}
	if address, err := url.Parse(s.dsn); err == nil {
		if password, given := address.User.Password(); given {
			found["the password of the database"] = password
		}
	}
	if s.key != "" {
		found["a key"] = s.key
	}
	return found
}

// command runs a command of the program to its end.
func (s *site) command(ctx context.Context, t *testing.T, settings map[string]string, arguments ...string) (code int, stdout, stderr string) {
	t.Helper()
	contained, err := s.contain(ctx, t, settings,
		testcontainers.WithCmd(arguments...), testcontainers.WithWaitStrategyAndDeadline(patience, wait.ForExit()))
	if err != nil {
		t.Fatalf("%v: %v", arguments, err)
	}
	state, err := contained.State(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if stdout, stderr, err = printedBy(ctx, contained); err != nil {
		t.Fatal(err)
	}
	return state.ExitCode, stdout, stderr
}

// addKey makes a key with the command that people make one with, for all that
// is asked from then on.
func (s *site) addKey(ctx context.Context, t *testing.T) {
	t.Helper()
	code, stdout, stderr := s.command(ctx, t, nil, "keys", "add", "--person", "R. Invented", "--name", "Load")
	key := strings.TrimSuffix(stdout, "\n")
	if code != 0 || !printedKey.MatchString(key) || strings.Contains(key, "\n") {
		t.Fatalf("exit code %d, want 0 and the key alone:\n%s%s", code, stdout, stderr)
	}
	if strings.Contains(stderr, key) {
		t.Errorf("the key is printed a second time, to where logs go:\n%s", stderr)
	}
	s.key = key
}

// replica is one of the services on a database.
type replica struct {
	container testcontainers.Container
	base      string // of its URLs
}

// replicas starts so many services at once and waits until they are ready.
func (s *site) replicas(ctx context.Context, t *testing.T, count int, settings map[string]string) []replica {
	t.Helper()
	started := make([]replica, count)
	failures := make([]error, count)
	var all sync.WaitGroup
	for i := range count {
		all.Go(func() { started[i], failures[i] = s.replica(ctx, t, settings) })
	}
	all.Wait()
	if err := errors.Join(failures...); err != nil {
		t.Fatal(err)
	}
	return started
}

func (s *site) replica(ctx context.Context, t *testing.T, settings map[string]string) (replica, error) {
	t.Helper()
	contained, err := s.contain(ctx, t, settings,
		testcontainers.WithExposedPorts(servicePort),
		testcontainers.WithHostConfigModifier(func(config *container.HostConfig) {
			// An engine may publish on different ports for IPv4 and IPv6, and the library takes the first: one is enough.
			config.PortBindings = network.PortMap{network.MustParsePort(servicePort): {{HostIP: netip.IPv4Unspecified()}}}
		}),
		testcontainers.WithWaitStrategyAndDeadline(patience, wait.ForHTTP("/readyz").WithPort(servicePort)),
	)
	if err != nil {
		return replica{}, fmt.Errorf("start a replica: %w", err)
	}
	address, err := published(ctx, contained)
	return replica{contained, "http://" + address}, err
}

// exchange asks a service, with the key, and returns an error when no answer
// came in time. It may be called from any goroutine.
func (s *site) exchange(ctx context.Context, base string, r apitest.Request) (answer, error) {
	ctx, cancel := context.WithTimeout(ctx, answerWithin)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, r.Method, base+r.Path, bytes.NewReader(r.Body))
	if err != nil {
		return answer{}, err
	}
	maps.Copy(request.Header, r.Header)
	if len(r.Body) > 0 {
		request.Header.Set("Content-Type", "application/json")
	}
	if s.key != "" {
		request.Header.Set("Authorization", "Bearer "+s.key)
	}
	return try(request)
}

// judge holds what was exchanged against the contract.
func judge(t *testing.T, r apitest.Request, got answer) apitest.Answer {
	t.Helper()
	return apitest.New(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		maps.Copy(w.Header(), got.header)
		w.WriteHeader(got.status)
		if _, err := w.Write(got.body); err != nil {
			t.Error(err)
		}
	})).Do(t, r)
}

// ask asks a service and judges the exchange.
func (s *site) ask(ctx context.Context, t *testing.T, base string, r apitest.Request) apitest.Answer {
	t.Helper()
	got, err := s.exchange(ctx, base, r)
	if err != nil {
		t.Fatalf("%s %s: no answer within %s: %v", r.Method, r.Path, answerWithin, err)
	}
	return judge(t, r, got)
}

// demand asks a service for what must be answered with this status.
func (s *site) demand(ctx context.Context, t *testing.T, base string, status int, r apitest.Request) apitest.Answer {
	t.Helper()
	got := s.ask(ctx, t, base, r)
	if got.Status != status {
		t.Fatalf("%s %s: answered with %d, want %d:\n%.2000s", r.Method, r.Path, got.Status, status, got.Body)
	}
	return got
}

// again is how often is looked for what does not come at once.
const again = 50 * time.Millisecond

// await asks for a path until it is answered with this status.
func (s *site) await(ctx context.Context, t *testing.T, base, path string, status int) {
	t.Helper()
	for {
		got := s.ask(ctx, t, base, apitest.Request{Path: path})
		if got.Status == status {
			return
		}
		select {
		case <-ctx.Done():
			t.Fatalf("%s is still answered with %d, want %d:\n%s", path, got.Status, status, got.Body)
		case <-time.After(again):
		}
	}
}

// lotOrder returns the order of a lot of this name.
func lotOrder(t *testing.T, name string) []byte {
	t.Helper()
	var example struct {
		Value map[string]any `json:"value"`
	}
	if err := json.Unmarshal([]byte(readFile(t, "openapi", "examples", "lot.request.json")), &example); err != nil {
		t.Fatal(err)
	}
	delete(example.Value, "happened_at") // it happens now
	example.Value["name"] = name
	return encoded(t, example.Value)
}

// noteOrder returns notes as they are posted.
func noteOrder(t *testing.T, texts ...string) []byte {
	t.Helper()
	var entries []map[string]string
	for _, text := range texts {
		entries = append(entries, map[string]string{"kind": "noted", "text": text})
	}
	return encoded(t, map[string]any{"entries": entries})
}

func encoded(t *testing.T, value any) []byte {
	t.Helper()
	text, err := json.Marshal(value)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// open opens a lot and returns the path of it.
func (s *site) open(ctx context.Context, t *testing.T, base, name string) string {
	t.Helper()
	opened := s.demand(ctx, t, base, http.StatusCreated, apitest.Request{Method: http.MethodPost, Path: "/v1/lots", Body: lotOrder(t, name)})
	return opened.Header.Get("Location")
}

// ledger reads the ledger of a lot page by page and verifies its chain, as
// whoever has no trust in the service can. The service has to come to the same.
func (s *site) ledger(ctx context.Context, t *testing.T, base, lot string) []openapi.LedgerEntry {
	t.Helper()
	var ledger []openapi.LedgerEntry
	var last openapi.LedgerHead
	for next := ""; ; {
		query := url.Values{"limit": {"200"}}
		if next != "" {
			query.Set("cursor", next)
		}
		got := s.demand(ctx, t, base, http.StatusOK, apitest.Request{Path: lot + "/entries?" + query.Encode()})
		page := apitest.Decode[openapi.EntryPage](t, got)
		var raw struct {
			Entries []json.RawMessage `json:"entries"`
		}
		if err := json.Unmarshal(got.Body, &raw); err != nil {
			t.Fatal(err)
		}
		for i, entry := range page.Entries {
			var previous string
			if entry.PreviousDigest != nil {
				previous = *entry.PreviousDigest
			}
			if entry.Sequence != len(ledger)+1 || previous != last.Digest {
				t.Errorf("%s: entry %d follows on %d, and names %q as the digest of it, which is %q", lot, entry.Sequence, last.Sequence, previous, last.Digest)
			}
			if digest := digestOf(t, raw.Entries[i]); digest != entry.Digest {
				t.Errorf("%s: the digest of entry %d is %s, and the service says %s", lot, entry.Sequence, digest, entry.Digest)
			}
			last = openapi.LedgerHead{Sequence: entry.Sequence, Digest: entry.Digest}
			ledger = append(ledger, entry)
		}
		if page.NextCursor == nil {
			if page.Head != last {
				t.Errorf("%s: the ledger ends with %+v, and the service says %+v", lot, last, page.Head)
			}
			break
		}
		next = *page.NextCursor
	}

	verification := apitest.Decode[openapi.LedgerVerification](t, s.demand(ctx, t, base, http.StatusOK, apitest.Request{Path: lot + "/ledger/verification"}))
	want := openapi.LedgerVerification{
		LotID: strings.TrimPrefix(lot, "/v1/lots/"), Outcome: openapi.LedgerVerificationOutcomeIntact, Entries: len(ledger), Head: last,
	}
	if diff := cmp.Diff(want, verification); diff != "" {
		t.Errorf("%s: verification (-want +got):\n%s", lot, diff)
	}
	return ledger
}

// digestOf computes the digest of an entry as the contract tells: the SHA-256 of
// what is listed, without digest and judged, in the canonical form of RFC 8785.
// For what these tests write that is: members sorted, nothing between them.
func digestOf(t *testing.T, entry []byte) string {
	t.Helper()
	var members map[string]any
	if err := json.Unmarshal(entry, &members); err != nil {
		t.Fatal(err)
	}
	delete(members, "digest")
	delete(members, "judged")
	var canonical bytes.Buffer
	encoder := json.NewEncoder(&canonical)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(members); err != nil {
		t.Fatal(err)
	}
	digest := sha256.Sum256(bytes.TrimSuffix(canonical.Bytes(), []byte("\n")))
	return hex.EncodeToString(digest[:])
}

// digests returns the digests of a ledger.
func digests(ledger []openapi.LedgerEntry) []string {
	var all []string
	for _, entry := range ledger {
		all = append(all, entry.Digest)
	}
	return all
}

// lots returns all lots, page by page.
func (s *site) lots(ctx context.Context, t *testing.T, base string) []openapi.LotSummary {
	t.Helper()
	var all []openapi.LotSummary
	for next := ""; ; {
		query := url.Values{"limit": {"25"}}
		if next != "" {
			query.Set("cursor", next)
		}
		page := apitest.Decode[openapi.LotPage](t, s.demand(ctx, t, base, http.StatusOK, apitest.Request{Path: "/v1/lots?" + query.Encode()}))
		all = append(all, page.Lots...)
		if page.NextCursor == nil {
			return all
		}
		next = *page.NextCursor
	}
}

// headerOnce names what a request is known by when it is sent again.
const headerOnce = "Idempotency-Key"

// order is a thing that is to be done once, however often it is asked for. It
// opens a lot or writes notes.
type order struct {
	request apitest.Request
	lot     string   // the name of a lot
	notes   []string // their texts
}

// exchanged is a request of a load and what came of it.
type exchanged struct {
	order order
	base  string
	got   answer
	err   error // why there is no answer
}

// String tells of the exchange, for people.
func (e exchanged) String() string {
	request := fmt.Sprintf("%s %s%s, Idempotency-Key %s", e.order.request.Method, e.base, e.order.request.Path, e.order.request.Header.Get(headerOnce))
	if e.err != nil {
		return fmt.Sprintf("%s: %v", request, e.err)
	}
	return fmt.Sprintf("%s: %d %s", request, e.got.status, e.got.body)
}

// writers is how many write at the same time.
const writers = 8

// load is what many write at once to one lot, and to new ones. Each order goes
// to the next of the bases; a third goes to the one after that as well, half of
// these at the same moment. Until it is answered with success an order is sent
// again, with the same key, to the next of the bases.
type load struct {
	site  *site
	bases []string
	lot   string                        // path of the lot
	first string                        // name of the lot
	ways  func(writer, turn int) []byte // makes the order of a new lot, or nil

	mutex     sync.Mutex
	exchanges []exchanged
	done      int // orders that were answered with success
	undone    []error

	running sync.WaitGroup
	enough  chan struct{}
	told    sync.Once
}

// newLoad opens the lot of a load.
func newLoad(ctx context.Context, t *testing.T, s *site, all ...replica) *load {
	t.Helper()
	const name = "Under load (invented)"
	l := &load{site: s, first: name, enough: make(chan struct{})}
	for _, each := range all {
		l.bases = append(l.bases, each.base)
	}
	l.lot = s.open(ctx, t, l.bases[0], name)
	example := lotOrder(t, name)
	l.ways = func(writer, turn int) []byte {
		return bytes.Replace(example, []byte(name), []byte(lotName(writer, turn)), 1)
	}
	return l
}

func lotName(writer, turn int) string {
	return fmt.Sprintf("Lot %d of writer %d (invented)", turn, writer)
}

// order returns what a writer asks for in a turn: mostly one to three notes,
// sometimes a new lot.
func (l *load) order(writer, turn int) order {
	key := http.Header{headerOnce: {fmt.Sprintf("load-%d-%d", writer, turn)}}
	if turn%7 == 5 {
		return order{lot: lotName(writer, turn), request: apitest.Request{
			Method: http.MethodPost, Path: "/v1/lots", Header: key, Body: l.ways(writer, turn),
		}}
	}
	var texts, entries []string
	for i := range 1 + turn%3 {
		text := fmt.Sprintf("note %d in turn %d of writer %d (invented)", i, turn, writer)
		texts = append(texts, text)
		entries = append(entries, `{"kind":"noted","text":`+strconv.Quote(text)+`}`)
	}
	return order{notes: texts, request: apitest.Request{
		Method: http.MethodPost, Path: l.lot + "/entries", Header: key, Body: []byte(`{"entries":[` + strings.Join(entries, ",") + `]}`),
	}}
}

// start lets the writers write, each so many turns, or until it is enough for
// zero. They end with the test.
func (l *load) start(ctx context.Context, t *testing.T, turns int) {
	t.Helper()
	ctx, cancel := context.WithCancel(ctx)
	t.Cleanup(func() {
		cancel()
		l.running.Wait()
	})
	for writer := range writers {
		l.running.Go(func() {
			for turn := 0; turns == 0 || turn < turns; turn++ {
				select {
				case <-l.enough:
					return
				default:
				}
				l.turn(ctx, writer, turn)
			}
		})
	}
}

// end tells the writers that it is enough, and waits until all that they have
// begun is done.
func (l *load) end(t *testing.T) {
	t.Helper()
	l.told.Do(func() { close(l.enough) })
	l.running.Wait()
	if len(l.undone) > 0 {
		t.Fatalf("%d orders were not done; the first: %v", len(l.undone), l.undone[0])
	}
}

// turn sends one order, some of them twice.
func (l *load) turn(ctx context.Context, writer, turn int) {
	o := l.order(writer, turn)
	base := writer + turn
	var same sync.WaitGroup
	if turn%6 == 1 {
		same.Go(func() { l.place(ctx, o, base+1) })
	}
	l.place(ctx, o, base)
	same.Wait()
	if turn%6 == 4 {
		l.place(ctx, o, base+1)
	}
}

// place sends an order until it is answered with success.
func (l *load) place(ctx context.Context, o order, base int) {
	for {
		e := exchanged{order: o, base: l.bases[base%len(l.bases)]}
		e.got, e.err = l.site.exchange(ctx, e.base, o.request)
		done := e.err == nil && e.got.status == http.StatusCreated
		l.mutex.Lock()
		l.exchanges = append(l.exchanges, e)
		if done {
			l.done++
		}
		l.mutex.Unlock()
		if done {
			return
		}
		base++
		select {
		case <-ctx.Done():
			l.mutex.Lock()
			l.undone = append(l.undone, errors.New(e.String()))
			l.mutex.Unlock()
			return
		case <-time.After(2 * again):
		}
	}
}

// count returns how many orders were answered with success so far.
func (l *load) count() int {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.done
}

// await waits until so many more orders are done.
func (l *load) await(ctx context.Context, t *testing.T, more int) {
	t.Helper()
	want := l.count() + more
	for l.count() < want {
		select {
		case <-ctx.Done():
			t.Fatalf("%d orders are done, want %d", l.count(), want)
		case <-time.After(again):
		}
	}
}

// expect judges all exchanges; which of those without success are right is for
// the caller to say.
func (l *load) expect(t *testing.T, tolerated func(exchanged) bool) {
	t.Helper()
	var wrong []exchanged
	for _, e := range l.exchanges {
		if e.err == nil {
			judge(t, e.order.request, e.got)
		}
		if (e.err != nil || e.got.status != http.StatusCreated) && !tolerated(e) {
			wrong = append(wrong, e)
		}
	}
	const shown = 5
	for _, e := range wrong[:min(len(wrong), shown)] {
		t.Errorf("not as it should be, as %d of %d exchanges: %s", len(wrong), len(l.exchanges), e)
	}
}

// expectOnce expects at each base that everything is there once: the notes of
// all orders in one chain, each answer of success as it was given, and the lots
// with numbers that leave none out.
func (l *load) expectOnce(ctx context.Context, t *testing.T, bases ...string) {
	t.Helper()
	wantNotes, wantLots := map[string]int{}, map[string]int{l.first: 1}
	for _, e := range l.exchanges {
		for _, text := range e.order.notes {
			wantNotes[text] = 1
		}
		if e.order.lot != "" {
			wantLots[e.order.lot] = 1
		}
	}
	ledger := l.site.ledger(ctx, t, bases[0], l.lot)
	lots := l.site.lots(ctx, t, bases[0])
	for _, base := range bases[1:] {
		if diff := cmp.Diff(digests(ledger), digests(l.site.ledger(ctx, t, base, l.lot))); diff != "" {
			t.Errorf("the ledger (-%s +%s):\n%s", bases[0], base, diff)
		}
		if diff := cmp.Diff(lots, l.site.lots(ctx, t, base)); diff != "" {
			t.Errorf("the lots (-%s +%s):\n%s", bases[0], base, diff)
		}
	}

	notes := map[string]int{}
	for _, entry := range ledger {
		if entry.Kind == openapi.EntryKindNoted {
			notes[noteIn(t, entry)]++
		}
	}
	if diff := cmp.Diff(wantNotes, notes); diff != "" {
		t.Errorf("how often each note is in the ledger (-want +got):\n%s", diff)
	}
	names := map[string]int{}
	var numbers, wantNumbers []int
	for i, lot := range lots {
		names[lot.Name]++
		numbers = append(numbers, lot.Number)
		wantNumbers = append(wantNumbers, i+1)
	}
	slices.Sort(numbers)
	if diff := cmp.Diff(wantLots, names); diff != "" {
		t.Errorf("how often each lot is there (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(wantNumbers, numbers); diff != "" {
		t.Errorf("the numbers of the lots (-want +got):\n%s", diff)
	}
	l.expectAcknowledged(t, ledger, lots)
}

// expectAcknowledged expects that each answer of success told what is kept, and
// that no order was done anew twice.
func (l *load) expectAcknowledged(t *testing.T, ledger []openapi.LedgerEntry, lots []openapi.LotSummary) {
	t.Helper()
	anew := map[string]int{}
	for _, e := range l.exchanges {
		if e.err != nil || e.got.status != http.StatusCreated {
			continue
		}
		if e.got.header.Get("Idempotency-Replayed") != "true" {
			anew[e.order.request.Header.Get(headerOnce)]++
		}
		a := apitest.Answer{Status: e.got.status, Header: e.got.header, Body: e.got.body}
		if e.order.lot != "" {
			opened := apitest.Decode[openapi.Lot](t, a)
			if !slices.ContainsFunc(lots, func(kept openapi.LotSummary) bool {
				return kept.ID == opened.ID && kept.Number == opened.Number && kept.Name == e.order.lot && opened.Name == e.order.lot
			}) {
				t.Errorf("lot %d with the id %s was acknowledged and is not there: %s", opened.Number, opened.ID, e)
			}
			continue
		}
		appended := apitest.Decode[openapi.AppendAnswer](t, a)
		var told []string
		for _, each := range appended.Entries {
			told = append(told, noteIn(t, each.Entry))
			if at := each.Entry.Sequence; at > len(ledger) || ledger[at-1].Digest != each.Entry.Digest {
				t.Errorf("entry %d was acknowledged and is not there: %s", at, e)
			}
		}
		if diff := cmp.Diff(e.order.notes, told); diff != "" {
			t.Errorf("what was acknowledged (-asked +told):\n%s\n%s", diff, e)
		}
		if at := appended.Head.Sequence; at > len(ledger) || ledger[at-1].Digest != appended.Head.Digest {
			t.Errorf("the head that was acknowledged, %+v, was never that of the ledger: %s", appended.Head, e)
		}
	}
	for key, times := range anew {
		if times > 1 {
			t.Errorf("what was asked for with the key %s was said to be done anew %d times", key, times)
		}
	}
}

// noteIn returns the text of a note.
func noteIn(t *testing.T, entry openapi.LedgerEntry) string {
	t.Helper()
	var body struct {
		Text string `json:"text"`
	}
	if err := json.Unmarshal(entry.Body, &body); err != nil {
		t.Fatal(err)
	}
	return body.Text
}
