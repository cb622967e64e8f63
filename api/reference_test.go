package api

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/domain/material"
	"greenweight/openapi"
)

func TestExamplesOfReference(t *testing.T) {
	t.Parallel()
	for name, path := range map[string]string{
		"rulebooks-ca":   "/v1/reference/rulebooks?rulebook=ca",
		"cures":          "/v1/reference/cures",
		"cultures":       "/v1/reference/cultures",
		"materials-wine": "/v1/reference/materials?group=wine",
		"trichinae":      "/v1/reference/trichinae",
		"pathogens":      "/v1/reference/pathogens",
		"finish-rules":   "/v1/reference/finish",
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Get(t, path), near)
		})
	}
}

// Regulation (EU) 2023/2108 changes the nitrite of category 08.3.1 on 9 October
// 2025, from 150 mg/kg as NaNO2 to 80 mg/kg as nitrite ion.
func TestRowsInForceOnADay(t *testing.T) {
	t.Parallel()
	for day, want := range map[string]string{"2025-10-08": "eu-nitrite-0831-old", "2025-10-09": "eu-nitrite-0831"} {
		body := apitest.Decode[openapi.Rulebooks](t, testClient(t).Get(t, "/v1/reference/rulebooks?rulebook=eu&date="+day))
		for _, id := range []string{"eu-nitrite-0831-old", "eu-nitrite-0831"} {
			got := slices.ContainsFunc(body.Limits, func(l openapi.LimitRow) bool { return l.ID == id })
			if got != (id == want) {
				t.Errorf("on %s: %s in force: %v", day, id, got)
			}
		}
	}
}

// 1/4 oz in 100 lb is 1/6400, 156.25 mg/kg, printed 156: 9 CFR 424.21(c).
func TestARowShowsItsFraction(t *testing.T) {
	t.Parallel()
	body := apitest.Decode[openapi.Rulebooks](t, testClient(t).Get(t, "/v1/reference/rulebooks?rulebook=us"))
	i := slices.IndexFunc(body.Limits, func(l openapi.LimitRow) bool { return l.ID == "us-nitrite-comminuted" })
	if i < 0 {
		t.Fatal("no row us-nitrite-comminuted")
	}
	v := body.Limits[i].Value
	if v.Exact == nil || *v.Exact != 156.25 || v.Fraction == nil || *v.Fraction != "625/4" || v.Printed != "156 ppm" {
		t.Errorf("want 156.25, 625/4 and 156 ppm, got %+v", v)
	}
}

func TestEveryRowKeepsTheContract(t *testing.T) {
	t.Parallel()
	// The client judges each answer by the contract.
	all := apitest.Decode[openapi.Rulebooks](t, testClient(t).Get(t, "/v1/reference/rulebooks"))
	if len(all.Limits) < 90 || len(all.Guides) == 0 || len(all.Calculations) == 0 {
		t.Errorf("want every row, got %d limits, %d guides, %d calculations", len(all.Limits), len(all.Guides), len(all.Calculations))
	}
	materials := apitest.Decode[openapi.Materials](t, testClient(t).Get(t, "/v1/reference/materials"))
	if len(materials.Materials) < 100 {
		t.Errorf("want every material, got %d", len(materials.Materials))
	}
}

// Every member of an allergen of a material, on mustard seed (European Union
// alone) and lactose; and the words of the contract.
func TestAllergensOfMaterials(t *testing.T) {
	t.Parallel()
	body := apitest.Decode[openapi.Materials](t, testClient(t).Get(t, "/v1/reference/materials"))
	of := func(key string) []openapi.MaterialAllergen {
		i := slices.IndexFunc(body.Materials, func(m openapi.Material) bool { return m.Key == key })
		if i < 0 {
			t.Fatalf("no material %s", key)
		}
		return body.Materials[i].Allergens
	}
	lactose := openapi.Text("lactose is made from milk")
	for key, want := range map[string][]openapi.MaterialAllergen{
		"mustard-seed-ground": {{Allergen: "mustard", Certain: true, InEu: true}},
		"lactose-monohydrate": {{Allergen: "milk", Certain: true, InUs: true, InEu: true, Why: &lactose}},
		"pepper-black":        nil,
	} {
		if d := cmp.Diff(want, of(key)); d != "" {
			t.Errorf("%s (-want +got):\n%s", key, d)
		}
	}
	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	words := document.Components.Schemas["MaterialAllergen"].Value.Properties["allergen"].Value.Enum
	for i, a := range material.Allergens() {
		if i >= len(words) || words[i] != a.String() {
			t.Errorf("%s is not the word %d of the contract", a, i)
		}
	}
	if len(body.AllergenSources) != 2 {
		t.Errorf("want both lists, got %v", body.AllergenSources)
	}
}
