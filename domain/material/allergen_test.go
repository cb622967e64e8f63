package material_test

import (
	"testing"

	"greenweight/domain/material"
)

// Nine in the United States (21 U.S.C. 321(qq), with sesame since 2023), fourteen
// in the European Union (Regulation (EU) No 1169/2011, annex II).
func TestNineAndFourteen(t *testing.T) {
	t.Parallel()
	var us, eu int
	for _, a := range material.Allergens() {
		if a.UnitedStates() {
			us++
		}
		if a.EuropeanUnion() {
			eu++
		}
		if a.String() == "unstated" {
			t.Errorf("allergen %d has no word", a)
		}
	}
	if us != 9 || eu != 14 {
		t.Errorf("want 9 and 14, got %d and %d", us, eu)
	}
	for _, a := range []material.Allergen{material.Celery, material.Mustard, material.Sulphites, material.Lupin, material.Molluscs} {
		if a.UnitedStates() {
			t.Errorf("%s is none of the nine", a)
		}
	}
	if len(material.AllergenSources()) != 2 {
		t.Error("want the two lists cited")
	}
}

// The materials of the catalogue that bring one for certain; the others may, or
// do not.
func TestMaterialsThatBringAllergens(t *testing.T) {
	t.Parallel()
	want := map[string]material.Allergen{
		"milk-powder-nonfat": material.Milk, "milk-powder-whole": material.Milk, "whey-sweet-dried": material.Milk, "parmesan-hard": material.Milk,
		"lactose-monohydrate": material.Milk, "soy-flour-defatted": material.Soy, "mustard-seed-ground": material.Mustard,
	}
	known := 0
	for _, m := range material.All() {
		for _, b := range m.AllergensBrought() {
			known++
			if b.Certain != (want[m.Key] == b.Allergen) {
				t.Errorf("%s: %s, certain: %v", m.Key, b.Allergen, b.Certain)
			}
			if !b.Certain && b.Why == "" {
				t.Errorf("%s may bring %s, and nothing says why", m.Key, b.Allergen)
			}
			if m.Meat() {
				t.Errorf("%s is meat", m.Key)
			}
		}
	}
	// Counted by hand: milk 3, parmesan 2, lactose, soy, mustard, three wines of 4,
	// vinegar, two dextroses, corn syrup, gelatin, culture 2, chili 3. A key that is no
	// material would be missing.
	if known != 30 {
		t.Errorf("want 30, each row of the table of a material, got %d", known)
	}
	for _, m := range material.All() {
		if want[m.Key] != 0 && len(m.AllergensBrought()) == 0 {
			t.Errorf("%s brings none", m.Key)
		}
	}
}
