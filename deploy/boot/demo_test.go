package boot

import (
	"encoding/json"
	"io"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"greenweight/api/apitest"
	"greenweight/domain/lot"
	"greenweight/openapi"
	"greenweight/service/store"
	"greenweight/service/store/sqlstore"
)

// opened returns an open store in a folder of its own, with the first shop.
func opened(t *testing.T, dsn string) *sqlstore.Store {
	t.Helper()
	st, err := sqlstore.Open(t.Context(), dsn, sqlstore.Options{Migrate: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	if _, err := prepareShops(t.Context(), Config{}, st); err != nil {
		t.Fatal(err)
	}
	return st
}

// decoded asks a service and returns what it answers, which apitest holds
// against the contract.
func decoded[T any](t *testing.T, client *apitest.Client, path string) T {
	t.Helper()
	var answer T
	a := client.Get(t, path)
	if a.Status != http.StatusOK {
		t.Fatalf("%s: status %d: %s", path, a.Status, a.Body)
	}
	if err := json.Unmarshal(a.Body, &answer); err != nil {
		t.Fatal(err)
	}
	return answer
}

// The demonstration is a store that reads well: lots in every stage, whose
// ledgers hold, with one late entry, one correction and one doubtful weight, and
// pieces that have lost what such pieces lose.
func TestDemo(t *testing.T) {
	t.Parallel()
	dsn := file(t)
	cfg, err := ReadConfig([]string{prefix + "LISTEN=127.0.0.1:0", prefix + "METRICS_LISTEN=off", prefix + "DATABASE=" + dsn})
	if err != nil {
		t.Fatal(err)
	}
	cfg.Demo = true
	s, err := Open(t.Context(), cfg, io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	serve(t, s)
	client := apitest.NewRemote(s.URL(), &http.Client{Timeout: 20 * time.Second})

	page := decoded[openapi.LotPage](t, client, "/v1/lots")
	stages := map[string]int{}
	late, corrected, doubtful := 0, 0, 0
	for _, l := range page.Lots {
		stages[string(l.Stage)]++
		if !strings.Contains(l.Name, "(invented example)") {
			t.Errorf("%q does not say that it is invented", l.Name)
		}
		path := "/v1/lots/" + l.ID
		kept := decoded[openapi.Lot](t, client, path)
		doubtful += len(kept.Doubtful)
		if len(kept.Hazards) > 0 {
			t.Errorf("%s: the formula is a hazard", l.Name)
		}
		if v := decoded[openapi.LedgerVerification](t, client, path+"/ledger/verification"); v.Outcome != openapi.LedgerVerificationOutcomeIntact {
			t.Errorf("%s: the ledger is %s", l.Name, v.Outcome)
		}
		for _, e := range decoded[openapi.EntryPage](t, client, path+"/entries?limit=200").Entries {
			if e.Late {
				late++
			}
			if e.Kind == openapi.EntryKindCorrected {
				corrected++
			}
			if e.RecordedAt.Before(e.HappenedAt) || e.RecordedAt.After(time.Now()) {
				t.Errorf("%s: entry %d happened at %s and was recorded at %s", l.Name, e.Sequence, e.HappenedAt, e.RecordedAt)
			}
			if text := string(e.Body); strings.Contains(text, "supplier_lot") && !strings.Contains(text, "(invented)") {
				t.Errorf("%s: entry %d has a supplier's lot that does not say that it is invented", l.Name, e.Sequence)
			}
		}
		plausible(t, kept)
		fermented(t, client, kept)
	}
	for _, stage := range []string{"planned", "fermenting", "drying"} {
		if stages[stage] == 0 {
			t.Errorf("no lot is %s: %v", stage, stages)
		}
	}
	if late != 1 || corrected != 1 || doubtful != 1 {
		t.Errorf("%d late entries, %d corrections and %d doubtful entries, want 1 of each", late, corrected, doubtful)
	}
	// What the greeting shows has a projection for each piece.
	for _, p := range decoded[openapi.LotDryDown](t, client, "/v1/lots/"+string(s.demo.Drying)+"/dry-down").Pieces {
		if p.Projection == nil || p.Projection.Outcome != openapi.DryDownOutcomeProjected {
			t.Errorf("piece %s of the lot that is shown has no projection: %+v", p.Piece, p)
		}
	}
}

// plausible holds weights against what such pieces can lose, by hand: 45 to 55 mm
// at 12 to 13 °C and 76 to 79 % lose 2 to 5 % in two days of fermentation, never
// gain, never lose more than 2.6 points a day, and after four weeks have lost 30 to 38 %.
func plausible(t *testing.T, l openapi.Lot) {
	t.Helper()
	for _, p := range l.Pieces {
		loss, at := 0.0, p.StuffedAt
		for i, w := range p.WeighIns {
			if !w.Counts {
				continue
			}
			lost, days := float64(w.LossPercent), w.At.Sub(at).Hours()/24
			switch {
			case i == 0 && (lost < 2 || lost > 5):
				t.Errorf("%s, piece %s: %.1f %% were lost when it was hung", l.Name, p.Piece, lost)
			case lost < loss || lost-loss > 2.6*days:
				t.Errorf("%s, piece %s: from %.1f to %.1f %% in %.1f days", l.Name, p.Piece, loss, lost, days)
			}
			loss, at = lost, w.At
		}
		if at.Sub(p.StuffedAt) > 28*24*time.Hour && (loss < 30 || loss > 38) {
			t.Errorf("%s, piece %s: %.1f %% in all", l.Name, p.Piece, loss)
		}
	}
}

// fermented sees that the fermentation of what was stuffed can be judged, and
// that acid came in those that hang.
func fermented(t *testing.T, client *apitest.Client, l openapi.Lot) {
	t.Helper()
	f := decoded[openapi.LotFermentation](t, client, "/v1/lots/"+l.ID+"/fermentation")
	if (l.StuffedAt != nil) != (f.DegreeHours != nil) {
		t.Errorf("%s: the degree-hours are %v, stuffed at %v", l.Name, f.DegreeHours, l.StuffedAt)
	}
}

// An invented lot does not get among those that are there.
func TestDemoRefuses(t *testing.T) {
	t.Parallel()
	dsn := file(t)
	environ := []string{prefix + "LISTEN=127.0.0.1:0", prefix + "METRICS_LISTEN=off", prefix + "DATABASE=" + dsn}
	st := opened(t, dsn)
	if _, err := fillDemo(t.Context(), st, time.Now()); err != nil {
		t.Fatal(err)
	}
	before := contents(t, st)
	var stdout, stderr output
	if code := Main(t.Context(), []string{"serve", "--demo"}, environ, &stdout, &stderr); code != exitFailed {
		t.Errorf("exit code is %d, want 1", code)
	}
	if got := stderr.String(); !strings.Contains(got, "--demo") || !strings.Contains(got, at(dsn)) {
		t.Errorf("the message does not say what to do:\n%s", got)
	}
	same(t, before, contents(t, st))
	// A lot of another shop counts too.
	other := opened(t, file(t))
	shop := store.Shop{ID: "00000000-0000-7000-8000-000000000002", Name: "Cellar (invented)", CreatedAt: noon}
	if err := other.Update(t.Context(), func(w store.Writer) error { return w.AddShop(t.Context(), shop) }); err != nil {
		t.Fatal(err)
	}
	openLot(t, other, shop.ID, "")
	if _, err := fillDemo(t.Context(), other, time.Now()); err == nil {
		t.Error("invented lots got into a store with a lot")
	}
}

// Wherever and whenever it is filled in, no entry is in the future, and none but
// the one that is meant to be is late: also where the clocks are put back within
// those weeks.
func TestDemoAnywhere(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, zone string
		now        string
	}{
		{"just after midnight", "UTC", "2026-11-25T00:00:01Z"},
		{"far east", "Pacific/Kiritimati", "2026-11-25T00:30:00+14:00"},
		{"far west", "Pacific/Pago_Pago", "2026-11-25T23:59:59-11:00"},
		{"clocks put back", "Europe/Vienna", "2026-11-10T12:00:00+01:00"},
		{"clocks put on", "America/New_York", "2026-04-01T06:00:00-04:00"},
		{"leap day", "Asia/Kolkata", "2028-03-01T09:00:00+05:30"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			zone, err := time.LoadLocation(tc.zone)
			if err != nil {
				t.Fatal(err)
			}
			now, err := time.Parse(time.RFC3339, tc.now)
			if err != nil {
				t.Fatal(err)
			}
			st := opened(t, "sqlite:"+filepath.Join(t.TempDir(), "demo.db"))
			d, err := fillDemo(t.Context(), st, now.In(zone))
			if err != nil {
				t.Fatal(err)
			}
			late := 0
			for _, id := range d.Lots {
				_, entries, err := ledgerOf(t.Context(), st, store.Lot{Shop: store.FirstShop, ID: id})
				if err != nil {
					t.Fatal(err)
				}
				for _, e := range entries {
					if e.Late {
						late++
					}
					if e.RecordedAt.After(now) {
						t.Errorf("entry %d of lot %s was recorded at %s, after now", e.Sequence, id, e.RecordedAt)
					}
				}
				if !slices.IsSortedFunc(entries, func(a, b lot.Entry) int { return a.RecordedAt.Compare(b.RecordedAt) }) {
					t.Errorf("the entries of lot %s were not recorded one after the other", id)
				}
			}
			if late != 1 {
				t.Errorf("%d entries are late, want 1", late)
			}
		})
	}
}
