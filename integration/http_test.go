package integration

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"
)

// client asks the service under test. It follows no redirect and keeps no
// connection, so that a service that is told to stop is not held up by it.
var client = &http.Client{
	Timeout:       30 * time.Second,
	Transport:     &http.Transport{DisableKeepAlives: true},
	CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
}

// answer is what the service answered.
type answer struct {
	status int
	header http.Header
	body   []byte
}

func get(ctx context.Context, t *testing.T, url string) answer {
	t.Helper()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, url, http.NoBody)
	if err != nil {
		t.Fatal(err)
	}
	return ask(t, request)
}

func post(ctx context.Context, t *testing.T, url string, body io.Reader) answer {
	t.Helper()
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, url, body)
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/json")
	return ask(t, request)
}

func ask(t *testing.T, request *http.Request) answer {
	t.Helper()
	got, err := try(request)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// try asks where no answer is a result too.
func try(request *http.Request) (answer, error) {
	response, err := client.Do(request)
	if err != nil {
		return answer{}, err
	}
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	if err != nil {
		return answer{}, err
	}
	return answer{status: response.StatusCode, header: response.Header, body: body}, nil
}

// expectJSON fails the test unless the answer is good and is JSON.
func expectJSON(t *testing.T, got answer) {
	t.Helper()
	if got.status != http.StatusOK || !strings.HasPrefix(got.header.Get("Content-Type"), "application/json") || !json.Valid(got.body) {
		t.Fatalf("answered %d %s, want %d and JSON:\n%s", got.status, got.header.Get("Content-Type"), http.StatusOK, got.body)
	}
}

// oneKilogram returns a question of the contract's examples.
func oneKilogram(t *testing.T) []byte {
	t.Helper()
	var example struct {
		Value json.RawMessage `json:"value"`
	}
	if err := json.Unmarshal([]byte(readFile(t, "openapi", "examples", "check-one-kilogram.request.json")), &example); err != nil {
		t.Fatal(err)
	}
	return example.Value
}

// checkOneKilogram asks for the check of 2.5 g of a 6.25 % cure per kilogram
// of meat, an example of the contract, and looks for the two findings that
// must be in the answer. By hand:
//
//   - us: 2.5 g/kg x 6.25 % = 156.25 mg sodium nitrite per kg of meat, which is
//     the limit itself (9 CFR 424.21(c): 1/4 oz to 100 lb = 156.25 mg/kg, "at
//     the maximum"), so it is met.
//   - eu: 156.25 mg x 46.006/68.995 = 104.2 mg nitrite ion; the batch is 1 kg of
//     meat, 26 g salt, 2.5 g cure, 5 g dextrose and 0.25 g culture, 1.03375 kg;
//     so 100.8 mg/kg, above the 80 of Regulation (EU) 2023/2108, in force since
//     9 October 2025.
func checkOneKilogram(ctx context.Context, t *testing.T, base string) {
	t.Helper()
	got := post(ctx, t, base+"/v1/formulas/check", bytes.NewReader(oneKilogram(t)))
	expectJSON(t, got)
	var check struct {
		Findings []struct {
			LimitID  string `json:"limit_id"`
			Status   string `json:"status"`
			Measured struct {
				Value float64 `json:"value"`
			} `json:"measured"`
			Limit struct {
				Value float64 `json:"value"`
			} `json:"limit"`
		} `json:"findings"`
	}
	if err := json.Unmarshal(got.body, &check); err != nil {
		t.Fatal(err)
	}
	wanted := map[string]struct {
		status          string
		measured, limit float64
		tolerance       float64 // of what is measured
	}{
		"us-nitrite-comminuted": {"met", 156.25, 156.25, 1e-6},
		"eu-nitrite-0831":       {"not-met", 100.8, 80, 0.1}, // a division of the scale on the small weights
	}
	for _, finding := range check.Findings {
		want, ok := wanted[finding.LimitID]
		if !ok {
			continue
		}
		delete(wanted, finding.LimitID)
		if finding.Status != want.status || finding.Limit.Value != want.limit || math.Abs(finding.Measured.Value-want.measured) > want.tolerance {
			t.Errorf("%s: got %+v, want %+v", finding.LimitID, finding, want)
		}
	}
	for id := range wanted {
		t.Errorf("no finding on %s in:\n%s", id, got.body)
	}
}
