package material

import (
	"strings"
	"testing"
)

const heading = "key,group,ndb_no,fdc_id,description,nitrogen_factor,water_g,protein_g,fat_g,ash_g,carbohydrate_g," +
	"fibre_g,sugars_g,alcohol_g,energy_kcal,energy_kj,saturated_fat_g,trans_fat_g,monounsaturated_fat_g,polyunsaturated_fat_g," +
	"cholesterol_mg,sodium_mg,potassium_mg,calcium_mg,iron_mg,phosphorus_mg,vitamin_d_ug,macro_sum_g\n"

const row = "a_b,pork,00001,,A meat,6.25,70,20,9,1,0,,,,160,669,,,,,,,,,,,,100\n"

func TestParse(t *testing.T) {
	t.Parallel()
	got, err := parse(strings.NewReader(heading + row))
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 1 || got[0].Key != "a-b" || got[0].Species != Pork {
		t.Errorf("got %+v", got)
	}
}

func TestParseRefuses(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, table, says string }{
		{"nothing", "", "read heading"},
		{"another heading", strings.Replace(heading, "water_g", "water_mg", 1) + row, "columns"},
		{"columns in another order", strings.Replace(heading, "water_g,protein_g", "protein_g,water_g", 1) + row, "columns"},
		{"a column short", heading + strings.TrimSuffix(row, ",100\n"), "read composition table"},
		{"a word for a number", heading + strings.Replace(row, ",70,", ",much,", 1), "line 2 of composition table: column water_g"},
		{"more than the whole", heading + strings.Replace(row, ",70,", ",170,", 1), "column water_g"},
		{"less than nothing", heading + strings.Replace(row, ",20,", ",-20,", 1), "column protein_g"},
		{"not a number", heading + strings.Replace(row, ",9,", ",NaN,", 1), "column fat_g"},
		{"energy in one unit", heading + strings.Replace(row, ",669,", ",,", 1), "column energy_kj"},
		{"broken energy", heading + strings.Replace(row, ",160,", ",1.5,", 1), "column energy_kcal"},
		{"unknown group", heading + strings.Replace(row, "pork", "fish", 1), "column group"},
		{"no key", heading + strings.TrimPrefix(row, "a_b"), "column key"},
		{"a key twice", heading + row + row, "stands twice"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := parse(strings.NewReader(c.table))
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("want an error that names %q, got %v", c.says, err)
			}
		})
	}
}

// Whatever the table holds, it is read or refused, and what is read keeps the
// bounds of its types.
func FuzzParse(f *testing.F) {
	f.Add(heading + row)
	f.Add(compositionTable)
	f.Add(heading + strings.Replace(row, ",70,", ",1e999,", 1))
	f.Add("\"")
	f.Fuzz(func(t *testing.T, table string) {
		rows, err := parse(strings.NewReader(table))
		if err != nil {
			return
		}
		for _, m := range rows {
			if w, ok := m.Composition.Water.Get(); ok && !(w.Float() >= 0 && w.Float() <= 1) {
				t.Errorf("water of %q is %v", m.Key, w)
			}
			if m.Key == "" || m.Group == 0 || m.Source.Title == "" {
				t.Errorf("row without key, group or source: %+v", m)
			}
		}
	})
}

// Every table that is keyed by material names materials that are there.
func TestTablesNameMaterials(t *testing.T) {
	t.Parallel()
	for key := range densities {
		if _, ok := ByKey(key); !ok {
			t.Errorf("density of %s, which is not there", key)
		}
	}
	for key := range animals {
		if _, ok := ByKey(key); !ok {
			t.Errorf("species of %s, which is not there", key)
		}
	}
	for key := range notes {
		if _, ok := ByKey(key); !ok {
			t.Errorf("note on %s, which is not there", key)
		}
	}
}
