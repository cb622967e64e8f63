package rulebook_test

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
)

// The factors that tables of curing arithmetic print to two decimals: 0.67 from
// sodium nitrite to its ion, 0.73 and 0.61 from sodium and potassium nitrate to
// theirs. And the pairs of 9 CFR 424.22(b), of which the potassium figure is
// rounded or cut off: 120/148, 100/123, 200/246, 40/49, 80/99.
func TestPublishedFactors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		from, to rulebook.Compound
		amount   float64
		printed  float64
		within   float64
	}{
		{"sodium nitrite to ion", rulebook.CompoundNaNO2, rulebook.CompoundNO2, 1, 0.67, 0.005},
		{"sodium nitrate to ion", rulebook.CompoundNaNO3, rulebook.CompoundNO3, 1, 0.73, 0.005},
		{"potassium nitrate to ion", rulebook.CompoundKNO3, rulebook.CompoundNO3, 1, 0.61, 0.005},
		{"9 CFR 424.22(b), 120", rulebook.CompoundNaNO2, rulebook.CompoundKNO2, 120, 148, 1},
		{"9 CFR 424.22(b), 100", rulebook.CompoundNaNO2, rulebook.CompoundKNO2, 100, 123, 1},
		{"9 CFR 424.22(b), 200", rulebook.CompoundNaNO2, rulebook.CompoundKNO2, 200, 246, 1},
		{"9 CFR 424.22(b), 40", rulebook.CompoundNaNO2, rulebook.CompoundKNO2, 40, 49, 1},
		{"9 CFR 424.22(b), 80", rulebook.CompoundNaNO2, rulebook.CompoundKNO2, 80, 99, 1},
		// EFSA Journal 2017;15(6):4786 and the old European rows: 150 as sodium
		// nitrite are 100 as ion, the figure that the new row for spreadable
		// sausage prints for the same amount.
		{"150 as sodium nitrite", rulebook.CompoundNaNO2, rulebook.CompoundNO2, 150, 100, 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := rulebook.Convert(quantity.MustPPM(c.amount), c.from, c.to)
			if err != nil {
				t.Fatal(err)
			}
			quantitytest.Near(t, c.name, c.printed, got.MilligramsPerKilogram(), c.within)
		})
	}
}

// Molar masses from reference works on chemicals: the labels of reagents print
// 69.00, 85.10, 84.99, 101.10, 58.44, 176.12, 198.11 and 216.12 g/mol; to half a
// unit of the last digit.
func TestMolarMassesOfReagents(t *testing.T) {
	t.Parallel()
	for c, want := range map[rulebook.Compound]float64{
		rulebook.CompoundNaNO2: 69.00, rulebook.CompoundKNO2: 85.10, rulebook.CompoundNaNO3: 84.99, rulebook.CompoundKNO3: 101.10,
		rulebook.CompoundNaCl: 58.44, rulebook.CompoundAscorbicAcid: 176.12, rulebook.CompoundErythorbicAcid: 176.12,
		rulebook.CompoundSodiumAscorbate: 198.11, rulebook.CompoundSodiumErythorbate: 216.12,
	} {
		got, _ := c.MolarMass().Float64()
		quantitytest.Near(t, c.String(), want, got, 0.0051)
	}
	if rulebook.Compound(0).MolarMass() != nil {
		t.Error("nothing has a molar mass")
	}
}

// The atomic weights of IUPAC's abridged table of 2021 (H 1.0080, C 12.011, N
// 14.007, O 15.999, Na 22.990, K 39.098; Pure Appl. Chem. 94(5):573, 2022) give
// the same factors to 2 in 100 000.
func TestFactorsHoldForTheAbridgedAtomicWeights(t *testing.T) {
	t.Parallel()
	const h, c, n, o, na, k = 1.0080, 12.011, 14.007, 15.999, 22.990, 39.098
	const ascorbic = 6*c + 8*h + 6*o
	masses := map[rulebook.Compound]float64{
		rulebook.CompoundNaNO2: na + n + 2*o, rulebook.CompoundKNO2: k + n + 2*o, rulebook.CompoundNO2: n + 2*o,
		rulebook.CompoundNaNO3: na + n + 3*o, rulebook.CompoundKNO3: k + n + 3*o, rulebook.CompoundNO3: n + 3*o,
		rulebook.CompoundAscorbicAcid: ascorbic, rulebook.CompoundErythorbicAcid: ascorbic,
		rulebook.CompoundSodiumAscorbate: ascorbic - h + na, rulebook.CompoundSodiumErythorbate: ascorbic + h + na + o,
	}
	pairs := 0
	for from, m := range masses {
		for to, n := range masses {
			got, err := rulebook.Factor(from, to)
			if err != nil {
				continue
			}
			pairs++
			quantitytest.Near(t, from.String()+" to "+to.String(), 1, got.Float()/(n/m), 2e-5)
		}
	}
	if want := 9 + 9 + 4 + 4; pairs != want {
		t.Errorf("want %d factors, got %d", want, pairs)
	}
}

func TestConversionsThatHaveNoMeaning(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		from, to rulebook.Compound
	}{
		{"nitrate is not nitrite", rulebook.CompoundNaNO3, rulebook.CompoundNaNO2},
		{"nitrite is not nitrate", rulebook.CompoundNO2, rulebook.CompoundNO3},
		{"ascorbate is not erythorbate", rulebook.CompoundSodiumAscorbate, rulebook.CompoundErythorbicAcid},
		{"salt is not nitrite", rulebook.CompoundNaCl, rulebook.CompoundNaNO2},
		{"nothing", 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := rulebook.Convert(quantity.MustPPM(100), c.from, c.to)
			wantFault(t, err, fault.Invalid, "no-common-ion", "#/to")
		})
	}
	_, err := rulebook.NitriteFromNitrate(quantity.MustPPM(100), rulebook.CompoundNaNO2, rulebook.CompoundNaNO3)
	wantFault(t, err, fault.Invalid, "not-nitrate-to-nitrite", "#/from", "#/to")
}

// wantFault fails the test when err is not a fault of the kind and code with
// exactly these members.
func wantFault(tb testing.TB, err error, kind fault.Kind, code string, pointers ...string) {
	tb.Helper()
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		tb.Fatalf("want a fault, got %v", err)
	}
	if f.Kind != kind || f.Code != code {
		tb.Errorf("want %s %s, got %s %s", kind, code, f.Kind, f.Code)
	}
	var got []string
	for _, v := range f.Violations {
		got = append(got, v.Path.Pointer())
		if v.Code == "" || v.Detail == "" {
			tb.Errorf("%s has no code or detail", v.Path.Pointer())
		}
	}
	if diff := cmp.Diff(pointers, got); diff != "" {
		tb.Errorf("members at fault differ (-want +got):\n%s", diff)
	}
}

// There and back is where it began, by whatever way, and the ion is never more
// than its salt.
func TestConversionRoundTrips(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		compounds := rulebook.Compounds()
		from := rapid.SampledFrom(compounds).Draw(t, "from")
		over := rapid.SampledFrom(compounds).Draw(t, "over")
		to := rapid.SampledFrom(compounds).Draw(t, "to")
		amount := quantity.MustPPM(rapid.Float64Range(0, 1e6).Draw(t, "amount"))
		there, err := rulebook.Convert(amount, from, to)
		if err != nil {
			if _, err := rulebook.Convert(amount, to, from); err == nil {
				t.Fatalf("%s to %s has a meaning only backwards", from, to)
			}
			return
		}
		back, err := rulebook.Convert(there, to, from)
		if err != nil {
			t.Fatal(err)
		}
		if back.Compare(amount) != 0 {
			t.Fatalf("%s to %s and back: %s became %s", from, to, amount, back)
		}
		if detour, err := rulebook.Convert(amount, from, over); err == nil {
			onward, err := rulebook.Convert(detour, over, to)
			if err != nil {
				t.Fatal(err)
			}
			if onward.Compare(there) != 0 {
				t.Fatalf("%s to %s over %s: %s and %s", from, to, over, there, onward)
			}
		}
		if (to == rulebook.CompoundNO2 || to == rulebook.CompoundNO3) && amount.Less(there) {
			t.Fatalf("%s of %s hold %s of ion", amount, from, there)
		}
		if math.IsNaN(there.MilligramsPerKilogram()) {
			t.Fatal("not a number")
		}
	})
}

// The bound on nitrite from nitrate is the same over the ions.
func TestNitriteFromNitrateOverTheIons(t *testing.T) {
	t.Parallel()
	// 100 mg/kg of potassium nitrate: 100 * 62.0049/101.1032 = 61.3283 as ion,
	// 61.3283 * 46.0055/62.0049 = 45.5035 as nitrite ion, by hand.
	got, err := rulebook.NitriteFromNitrate(quantity.MustPPM(100), rulebook.CompoundKNO3, rulebook.CompoundNO2)
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "nitrite ion, mg/kg", 45.5035, got.MilligramsPerKilogram(), 1e-4)
}

func TestSpeciesAreCompounds(t *testing.T) {
	t.Parallel()
	for s, want := range map[rulebook.Species]rulebook.Compound{
		rulebook.SodiumNitrite: rulebook.CompoundNaNO2, rulebook.SodiumNitrate: rulebook.CompoundNaNO3,
		rulebook.NitriteIon: rulebook.CompoundNO2, rulebook.NitrateIon: rulebook.CompoundNO3,
		rulebook.SodiumChloride: rulebook.CompoundNaCl, rulebook.ErythorbicAcid: rulebook.CompoundErythorbicAcid,
		rulebook.PotassiumNitrite: rulebook.CompoundKNO2, rulebook.PotassiumNitrate: rulebook.CompoundKNO3,
		rulebook.PhosphorusPentoxide: rulebook.CompoundP2O5,
	} {
		if got, ok := s.Compound(); !ok || got != want {
			t.Errorf("%s: want %s, got %s", s, want, got)
		}
	}
	for _, s := range []rulebook.Species{rulebook.AsAdded, rulebook.NoSpecies, 0} {
		if got, ok := s.Compound(); ok {
			t.Errorf("%s is %s", s, got)
		}
	}
}
