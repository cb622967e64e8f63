package integration

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"
	engine "github.com/moby/moby/client"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/exec"
	"github.com/testcontainers/testcontainers-go/log"
	containernetwork "github.com/testcontainers/testcontainers-go/network"
	"github.com/testcontainers/testcontainers-go/wait"

	"greenweight/api/apitest"
	"greenweight/integration/pgtest"
	"greenweight/openapi"
	"greenweight/service/store/sqlstore"
)

// within returns a context for all that a test waits for.
func within(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	t.Cleanup(cancel)
	return ctx
}

// On an empty database the image makes its tables by itself, refuses lots until
// there is a key, and takes one that the same image makes beside it.
func TestEmptyDatabase(t *testing.T) {
	t.Parallel()
	ctx := within(t)
	s, _ := newSite(ctx, t)
	first := s.replicas(ctx, t, 1, map[string]string{"GREENWEIGHT_ALLOW_OPEN": "true"})[0]

	name := "Of an empty database (invented)"
	opening := apitest.Request{Method: http.MethodPost, Path: "/v1/lots", Body: lotOrder(t, name)}
	s.demand(ctx, t, first.base, http.StatusUnauthorized, opening)
	checkOneKilogram(ctx, t, first.base)

	s.addKey(ctx, t)
	lot := s.open(ctx, t, first.base, name)
	var texts []string
	for i := range 5 {
		text := fmt.Sprintf("note %d (invented)", i)
		texts = append(texts, text)
		s.demand(ctx, t, first.base, http.StatusCreated, apitest.Request{Method: http.MethodPost, Path: lot + "/entries", Body: noteOrder(t, text)})
	}

	// There is a key now, so another replica starts without more ado. It finds what the first has written.
	second := s.replicas(ctx, t, 1, map[string]string{"GREENWEIGHT_MIGRATE": "false"})[0]
	for _, each := range []replica{first, second} {
		read := apitest.Decode[openapi.Lot](t, s.demand(ctx, t, each.base, http.StatusOK, apitest.Request{Path: lot}))
		if read.Name != name || read.Number != 1 || read.Head.Sequence != 6 {
			t.Errorf("%s is read as %q, number %d with %d entries, want %q, 1 and 6", lot, read.Name, read.Number, read.Head.Sequence, name)
		}
		ledger := s.ledger(ctx, t, each.base, lot)
		var found []string
		for _, entry := range ledger[1:] {
			found = append(found, noteIn(t, entry))
			if person := entry.RecordedBy.Person; entry.RecordedBy.Open || person == nil || *person != "R. Invented" {
				t.Errorf("entry %d is recorded by %+v, want the person of the key", entry.Sequence, entry.RecordedBy)
			}
		}
		if diff := cmp.Diff(texts, found); diff != "" {
			t.Errorf("the notes (-written +read):\n%s", diff)
		}
	}
	expectStop(ctx, t, first.container)
}

// An older database is one that a program with this schema has left. What it
// holds never changes, because every newer program has to be able to read it.
const (
	olderSchema = 2
	olderShop   = "00000000-0000-7000-8000-000000000001"
	olderLot    = "019aa000-0000-7000-8000-00000000000a"
	olderKey    = "019aa000-0000-7000-8000-00000000000b"
)

// olderEntries are in the ledger of the older database: when each happened, half
// a minute before it was recorded, and what was posted.
var olderEntries = []struct{ kind, at, body string }{
	{"planned", "2025-11-02T08:00:00Z", `{"name":"Older ring (invented)","formula":{"name":"Ring (invented)","product":"dry-sausage",
		"parts":[{"material":"pork-shoulder-whole-lean-and-fat","share_percent":100}],
		"additions":[{"role":"salt","material":"salt-table","rate":{"value":2.6,"unit":"percent"}},
			{"role":"cure","cure":{"assay":{"sodium_nitrite_percent":6.25,"salt_percent":93.75}},"rate":{"value":2.4,"unit":"g_per_kg"}}],
		"plan":{"loss_percent":35,"drying":[{"temperature":{"value":13,"unit":"degC"},"relative_humidity_percent":78}]}},
		"rulebook":"us"}`},
	{"stuffed", "2025-11-02T10:00:00Z", `{"kind":"stuffed","pieces":[{"piece":"A","weight":{"value":830.5,"unit":"g"}}]}`},
	{"noted", "2025-11-03T08:00:00Z", `{"kind":"noted","text":"smells as it should (invented)"}`},
	{"weighed", "2025-11-09T08:00:00Z", `{"kind":"weighed","piece":"A","weight":{"value":774,"unit":"g"}}`},
}

// fillOlder writes the older database, with statements as its program had them,
// and returns the key and the digests of the ledger.
func fillOlder(ctx context.Context, t *testing.T, dsn string) (key string, ledger []string) {
	t.Helper()
	if _, reached, err := sqlstore.MigrateTo(ctx, dsn, olderSchema); err != nil || reached != olderSchema {
		t.Fatalf("version %d of the schema, %v; want %d", reached, err, olderSchema)
	}
	connection, err := pgx.Connect(ctx, dsn)
	if err != nil {
		t.Fatal(err)
	}
	execute := func(statement string, values ...any) {
		t.Helper()
		if _, err := connection.Exec(ctx, statement, values...); err != nil {
			t.Fatalf("%s: %v", statement, err)
		}
	}
	instant := func(text string) time.Time {
		t.Helper()
		at, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	random := make([]byte, 32)
	if _, err := rand.Read(random); err != nil {
		t.Fatal(err)
	}
	key = "gwk_" + base64.RawURLEncoding.EncodeToString(random)
	hash := sha256.Sum256([]byte(key))
	made := instant("2025-11-01T08:00:00Z").UnixMicro()
	execute(`INSERT INTO shop (shop_id, name, last_lot_number, created_us) VALUES ($1, 'Home (invented)', 1, $2)`, olderShop, made)
	execute(`INSERT INTO access_key (shop_id, id, name, person, scopes, hash, created_us)
		VALUES ($1, $2, 'Scale', 'R. Invented', '["lots:read","lots:record","lots:correct"]', $3, $4)`, olderShop, olderKey, hash[:], made)

	type row struct {
		happened, recorded     int64
		kind, body             string
		previousDigest, digest []byte
	}
	var rows []row
	previous := make([]byte, sha256.Size)
	for i, e := range olderEntries {
		happened := instant(e.at)
		recorded := happened.Add(30 * time.Second)
		sealed := map[string]any{
			"shop_id": olderShop, "lot_id": olderLot, "sequence": i + 1, "kind": e.kind, "happened_at": e.at, "recorded_at": recorded.Format(time.RFC3339),
			"recorded_by": map[string]any{"open": false, "person": "R. Invented", "key_id": olderKey}, "request_id": "older-request",
			"rulebook_version": "2026.11.1", "late": false, "doubts": []any{}, "body": json.RawMessage(e.body),
		}
		if i > 0 {
			sealed["previous_digest"] = hex.EncodeToString(previous)
		}
		ledger = append(ledger, digestOf(t, encoded(t, sealed)))
		digest, err := hex.DecodeString(ledger[i])
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, row{happened.UnixMicro(), recorded.UnixMicro(), e.kind, e.body, previous, digest})
		previous = digest
	}
	execute(`INSERT INTO lot (shop_id, id, number, name, name_folded, stage, opened_us, recorded_us, head_sequence, head_digest)
		VALUES ($1, $2, 1, 'Older ring (invented)', 'older ring (invented)', 'stuffed', $3, $4, $5, $6)`,
		olderShop, olderLot, rows[0].happened, rows[len(rows)-1].recorded, len(rows), previous)
	for i, r := range rows {
		execute(`INSERT INTO entry (shop_id, lot_id, sequence, kind, happened_us, happened_offset_min, recorded_us, actor_key, actor_person,
				request_id, rulebook, late, doubts, body, previous_digest, digest)
			VALUES ($1, $2, $3, $4, $5, 0, $6, $7, 'R. Invented', 'older-request', '2026.11.1', 0, '[]', $8, $9, $10)`,
			olderShop, olderLot, i+1, r.kind, r.happened, r.recorded, olderKey, r.body, r.previousDigest, r.digest)
	}
	if err := connection.Close(ctx); err != nil {
		t.Fatal(err)
	}
	return key, ledger
}

// A database that an older program has left is refused by an image that may not
// change it, and served as it was once it was migrated.
func TestOlderDatabase(t *testing.T) {
	t.Parallel()
	ctx := within(t)
	s, database := newSite(ctx, t)
	dsn, err := database.DSN(ctx)
	if err != nil {
		t.Fatal(err)
	}
	key, kept := fillOlder(ctx, t, dsn)
	s.key = key
	keep := map[string]string{"GREENWEIGHT_MIGRATE": "false"}

	code, stdout, stderr := s.command(ctx, t, keep, "serve")
	if code != 1 || !strings.Contains(stderr, "greenweight migrate") || !strings.Contains(stderr, databaseHost) {
		t.Errorf("exit code %d, want 1, the command that helps and the database named:\n%s%s", code, stdout, stderr)
	}
	is, needed, err := sqlstore.SchemaVersions(ctx, dsn)
	if err != nil || is != olderSchema || needed <= olderSchema {
		t.Errorf("version %d of the schema of %d, %v; want %d, as it was, and a newer one", is, needed, err, olderSchema)
	}

	code, stdout, stderr = s.command(ctx, t, keep, "migrate")
	if want := fmt.Sprintf("version %d of the schema, from version %d", needed, olderSchema); code != 0 || !strings.Contains(stdout, want) {
		t.Errorf("exit code %d, want 0 and %q:\n%s%s", code, want, stdout, stderr)
	}
	served := s.replicas(ctx, t, 1, keep)[0]
	lot := "/v1/lots/" + olderLot
	if diff := cmp.Diff(kept, digests(s.ledger(ctx, t, served.base, lot))); diff != "" {
		t.Errorf("the ledger (-before +after):\n%s", diff)
	}
	read := apitest.Decode[openapi.Lot](t, s.demand(ctx, t, served.base, http.StatusOK, apitest.Request{Path: lot}))
	if read.Name != "Older ring (invented)" || read.Stage != openapi.LotStageStuffed || len(read.Pieces) != 1 || read.Pieces[0].Latest == nil {
		t.Errorf("the lot is read as %+v, want the ring with its piece that was weighed", read)
	}
	weighed := apitest.Request{
		Method: http.MethodPost, Path: lot + "/entries", Header: http.Header{headerOnce: {"after-migration"}},
		Body: []byte(`{"entries":[{"kind":"weighed","piece":"A","weight":{"value":700,"unit":"g"}}]}`),
	}
	s.demand(ctx, t, served.base, http.StatusCreated, weighed)
	s.demand(ctx, t, served.base, http.StatusCreated, weighed)
	if diff := cmp.Diff(kept, digests(s.ledger(ctx, t, served.base, lot))[:len(kept)]); diff != "" {
		t.Errorf("the ledger (-before +after another entry):\n%s", diff)
	}
	if opened := s.open(ctx, t, served.base, "Newer ring (invented)"); len(s.ledger(ctx, t, served.base, opened)) != 1 {
		t.Errorf("%s does not begin with one entry", opened)
	}
	if lots := s.lots(ctx, t, served.base); len(lots) != 2 || lots[0].Number != 2 {
		t.Errorf("the lots are %+v, want two, the newer one with the number 2", lots)
	}
}

// Two replicas that start on an empty database at the same moment, and then
// write to the same lot and count the same lots, lose nothing and do nothing
// twice.
func TestReplicas(t *testing.T) {
	t.Parallel()
	ctx := within(t)
	s, _ := newSite(ctx, t)
	both := s.replicas(ctx, t, 2, map[string]string{"GREENWEIGHT_ALLOW_OPEN": "true"})
	s.addKey(ctx, t)

	l := newLoad(ctx, t, s, both...)
	l.start(ctx, t, 30)
	l.running.Wait()
	l.end(t)
	l.expect(t, func(exchanged) bool { return false })
	l.expectOnce(ctx, t, both[0].base, both[1].base)
	expectOneJudge(ctx, t, s, l.lot, both)
}

// expectOneJudge has many judge the same entry at once, having seen the same
// version of the lot: one of them is right, and the others hear that it has
// changed.
func expectOneJudge(ctx context.Context, t *testing.T, s *site, lot string, all []replica) {
	t.Helper()
	before := s.demand(ctx, t, all[0].base, http.StatusOK, apitest.Request{Path: lot})
	correction := func(judge int) apitest.Request {
		return apitest.Request{
			Method: http.MethodPost, Path: lot + "/entries", Header: http.Header{"If-Match": {before.Header.Get("ETag")}},
			Body: fmt.Appendf(nil, `{"entries":[{"kind":"corrected","entry":2,"reason":"judged by %d (invented)",`+
				`"right":{"kind":"noted","text":"as judge %[1]d has it (invented)"}}]}`, judge),
		}
	}
	answers := make([]answer, writers)
	failures := make([]error, writers)
	var judges sync.WaitGroup
	for i := range writers {
		judges.Go(func() { answers[i], failures[i] = s.exchange(ctx, all[i%len(all)].base, correction(i)) })
	}
	judges.Wait()
	if err := errors.Join(failures...); err != nil {
		t.Fatal(err)
	}
	got := map[int]int{}
	for i, each := range answers {
		got[judge(t, correction(i), each).Status]++
	}
	want := map[int]int{http.StatusCreated: 1, http.StatusPreconditionFailed: writers - 1}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("how often each status came (-want +got):\n%s", diff)
	}
	length := apitest.Decode[openapi.Lot](t, before).Head.Sequence
	for _, each := range all {
		if ledger := s.ledger(ctx, t, each.base, lot); len(ledger) != length+1 {
			t.Errorf("%s: the ledger has grown from %d to %d entries, want one more", each.base, length, len(ledger))
		}
	}
}

// A replica that is killed while it writes has kept what it acknowledged. What
// it did not answer is asked of the other one again, and is there once.
func TestKilledReplica(t *testing.T) {
	t.Parallel()
	ctx := within(t)
	s, _ := newSite(ctx, t)
	s.addKey(ctx, t)
	both := s.replicas(ctx, t, 2, nil)
	killed, left := both[0], both[1]

	l := newLoad(ctx, t, s, both...)
	l.start(ctx, t, 0)
	l.await(ctx, t, 60)
	err := onEngine(ctx, func(docker *testcontainers.DockerClient) error {
		_, err := docker.ContainerKill(ctx, killed.container.GetContainerID(), engine.ContainerKillOptions{Signal: "KILL"})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	l.await(ctx, t, 60)
	l.end(t)
	unanswered := 0
	l.expect(t, func(e exchanged) bool {
		unanswered++
		return e.err != nil && e.base == killed.base
	})
	if unanswered == 0 {
		t.Error("every request was answered, so that none was sent again")
	}
	l.expectOnce(ctx, t, left.base)
}

// A service may take outageTimeout for a request while its database is gone, as
// each that waits in vain does. One that was asked meanwhile and is not answered
// within outageWithin hangs; the machine may be slow.
const (
	outageTimeout = 3 * time.Second
	outageWithin  = outageTimeout + 5*time.Second
)

// While the database is stopped, has crashed or does not move, the service says
// so, at once or when the time for a request is over, and calculates as before.
// When the database is back the service finds it by itself, and everything that
// was acknowledged or asked again is there once.
func TestDatabaseOutage(t *testing.T) {
	t.Parallel()
	ctx := within(t)
	s, database := newSite(ctx, t)
	s.addKey(ctx, t)
	only := s.replicas(ctx, t, 1, map[string]string{"GREENWEIGHT_REQUEST_TIMEOUT": outageTimeout.String()})[0]
	before, err := only.container.Inspect(ctx)
	if err != nil {
		t.Fatal(err)
	}
	id := otherContainer(ctx, t, s, only)
	freeze := func(ctx context.Context) error {
		return onEngine(ctx, func(docker *testcontainers.DockerClient) error {
			_, err := docker.ContainerPause(ctx, id, engine.ContainerPauseOptions{})
			return err
		})
	}
	thaw := func(ctx context.Context) error {
		return onEngine(ctx, func(docker *testcontainers.DockerClient) error {
			_, err := docker.ContainerUnpause(ctx, id, engine.ContainerUnpauseOptions{})
			return err
		})
	}

	l := newLoad(ctx, t, s, only)
	l.start(ctx, t, 0)
	for _, outage := range []struct {
		name       string
		begin, end func(context.Context) error
	}{
		{"stopped", database.Stop, database.Start},
		{"killed", database.Kill, database.Start},
		{"frozen", freeze, thaw},
	} {
		l.await(ctx, t, 40)
		if err := outage.begin(ctx); err != nil {
			t.Fatalf("%s: %v", outage.name, err)
		}
		t.Logf("the database is %s", outage.name)
		s.await(ctx, t, only.base, "/readyz", http.StatusServiceUnavailable)
		expectOutage(ctx, t, s, only.base, l.lot)
		if err := outage.end(ctx); err != nil {
			t.Fatalf("the end of %s: %v", outage.name, err)
		}
		s.await(ctx, t, only.base, "/readyz", http.StatusOK)
	}
	l.await(ctx, t, 40)
	l.end(t)
	refused := 0
	l.expect(t, func(e exchanged) bool {
		refused++
		return e.err == nil && e.got.status == http.StatusServiceUnavailable && e.got.header.Get("Retry-After") != ""
	})
	if refused == 0 {
		t.Error("every request was done at the first time, so that none was sent again")
	}
	l.expectOnce(ctx, t, only.base)
	after, err := only.container.Inspect(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if before.State.Pid != after.State.Pid || before.State.StartedAt != after.State.StartedAt {
		t.Errorf("the service was process %d started at %s and is now %d started at %s; want the same",
			before.State.Pid, before.State.StartedAt, after.State.Pid, after.State.StartedAt)
	}
}

// otherContainer returns the container on the network of a site that is not
// this replica.
func otherContainer(ctx context.Context, t *testing.T, s *site, not replica) string {
	t.Helper()
	var others []string
	err := onEngine(ctx, func(docker *testcontainers.DockerClient) error {
		found, err := docker.ContainerList(ctx, engine.ContainerListOptions{Filters: make(engine.Filters).Add("network", s.network.ID)})
		for _, each := range found.Items {
			if each.ID != not.container.GetContainerID() {
				others = append(others, each.ID)
			}
		}
		return err
	})
	if err != nil || len(others) != 1 {
		t.Fatalf("the other containers on the network are %v, want one; %v", others, err)
	}
	return others[0]
}

// expectOutage asks for everything while the database is gone.
func expectOutage(ctx context.Context, t *testing.T, s *site, base, lot string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, outageWithin)
	defer cancel()
	tests := []struct {
		request apitest.Request
		status  int
	}{
		{apitest.Request{Path: "/livez"}, http.StatusOK},
		{apitest.Request{Path: "/readyz"}, http.StatusServiceUnavailable},
		{apitest.Request{Method: http.MethodPost, Path: "/v1/formulas/check", Body: oneKilogram(t)}, http.StatusOK},
		{apitest.Request{Path: "/v1/reference/cures"}, http.StatusOK},
		{apitest.Request{Path: "/v1/lots"}, http.StatusServiceUnavailable},
		{apitest.Request{Path: lot}, http.StatusServiceUnavailable},
		{apitest.Request{Path: lot + "/entries"}, http.StatusServiceUnavailable},
		{apitest.Request{Path: lot + "/ledger/verification"}, http.StatusServiceUnavailable},
		{apitest.Request{Path: lot + "/dry-down"}, http.StatusServiceUnavailable},
		{apitest.Request{Path: lot + "/fermentation"}, http.StatusServiceUnavailable},
		{apitest.Request{Method: http.MethodPost, Path: "/v1/lots", Body: lotOrder(t, "Never (invented)")}, http.StatusServiceUnavailable},
		{apitest.Request{Method: http.MethodPost, Path: lot + "/entries", Body: noteOrder(t, "never (invented)")}, http.StatusServiceUnavailable},
	}
	answers := make([]answer, len(tests))
	failures := make([]error, len(tests))
	var all sync.WaitGroup
	for i, test := range tests {
		all.Go(func() { answers[i], failures[i] = s.exchange(ctx, base, test.request) })
	}
	all.Wait()
	for i, test := range tests {
		if failures[i] != nil {
			t.Errorf("%s %s: no answer within %s: %v", test.request.Method, test.request.Path, outageWithin, failures[i])
			continue
		}
		got := judge(t, test.request, answers[i])
		if got.Status != test.status || test.status == http.StatusServiceUnavailable && (got.Slug() != "unavailable" || got.Header.Get("Retry-After") == "") {
			t.Errorf("%s %s: answered with %d, Retry-After %q, want %d:\n%.2000s",
				test.request.Method, test.request.Path, got.Status, got.Header.Get("Retry-After"), test.status, got.Body)
		}
	}
}

// A database without room is said to have none; it can be read, and goes on when
// there is room again.
func TestFullDatabase(t *testing.T) {
	t.Parallel()
	ctx := within(t)
	private := pgtest.NewNetwork(ctx, t)
	const name = "greenweight" // of the user and the database
	password := rand.Text()
	database, err := testcontainers.Run(ctx, pgtest.Image(t),
		testcontainers.WithLogger(log.TestLogger(t)),
		testcontainers.WithEnv(map[string]string{
			"POSTGRES_USER": name, "POSTGRES_PASSWORD": password, "POSTGRES_DB": name, "PGDATA": "/small/data",
		}),
		testcontainers.WithTmpfs(map[string]string{"/small": "size=160m"}),
		containernetwork.WithNetwork([]string{databaseHost}, private),
		testcontainers.WithWaitStrategyAndDeadline(patience, wait.ForExec([]string{"pg_isready", "--host=127.0.0.1", "--username=" + name})),
	)
	testcontainers.CleanupContainer(t, database)
	if err != nil {
		t.Fatal(err)
	}
	run := func(command string) {
		t.Helper()
		code, _, err := database.Exec(ctx, []string{"sh", "-c", command}, exec.Multiplexed())
		if err != nil || code != 0 {
			t.Fatalf("%s: exit code %d, %v", command, code, err)
		}
	}
	s := &site{network: private, dsn: "postgres://" + name + ":" + password + "@" + databaseHost + ":5432/" + name + "?sslmode=disable"}
	s.addKey(ctx, t)
	only := s.replicas(ctx, t, 1, nil)[0]
	lot := s.open(ctx, t, only.base, "Of a full database (invented)")

	// The log of the database gets a fresh segment, and with it room for all that this test writes: it is the tables that can't grow.
	run(`PGPASSWORD='` + password + `' psql --no-psqlrc --host=127.0.0.1 --username=` + name + ` --command='SELECT pg_switch_wal()' --command=CHECKPOINT`)
	run(`dd if=/dev/zero of=/small/filler bs=8k 2>/dev/null; test -s /small/filler`)
	kept := 0
	var refused apitest.Request
	for refused.Path == "" {
		request := apitest.Request{
			Method: http.MethodPost, Path: lot + "/entries", Header: http.Header{headerOnce: {fmt.Sprintf("full-%d", kept)}},
			Body: noteOrder(t, strings.Repeat(rand.Text(), 70)),
		}
		switch got := s.ask(ctx, t, only.base, request); {
		case got.Status == http.StatusCreated && kept < 1000:
			kept++
		case got.Status == http.StatusInsufficientStorage && got.Slug() == "no-room":
			refused = request
		default:
			t.Fatalf("answered with %d after %d entries, want 201 and then 507:\n%s", got.Status, kept, got.Body)
		}
	}
	for _, path := range []string{"/livez", "/readyz", "/v1/lots", lot} {
		s.demand(ctx, t, only.base, http.StatusOK, apitest.Request{Path: path})
	}
	if got := len(s.ledger(ctx, t, only.base, lot)); got != 1+kept {
		t.Errorf("the ledger has %d entries while there is no room, want the %d that were acknowledged", got, 1+kept)
	}

	run("rm /small/filler")
	s.demand(ctx, t, only.base, http.StatusCreated, refused)
	s.demand(ctx, t, only.base, http.StatusCreated, refused)
	if got := len(s.ledger(ctx, t, only.base, lot)); got != 2+kept {
		t.Errorf("the ledger has %d entries, want %d", got, 2+kept)
	}
}
