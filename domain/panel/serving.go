package panel

import (
	"strconv"

	"greenweight/domain/fault"
)

// Cup is one sample before a taster.
type Cup struct {
	Sample    int    // 0 the first, 1 the second
	Code      string // three digits; empty for a reference, which is not blind
	Reference bool
}

// Serving is what one taster is given, from left to right.
type Serving struct{ Cups []Cup }

// orders are all ways to serve a method.
func (m Method) orders() []string {
	switch m {
	case Triangle:
		return []string{"AAB", "ABA", "BAA", "ABB", "BAB", "BBA"}
	case DuoTrio: // the reference first
		return []string{"AAB", "ABA", "BAB", "BBA"}
	default:
		return []string{"AB", "BA"}
	}
}

// Serve returns who is served what in which order, with blind codes. All orders
// are served equally often, or as nearly as the number of tasters allows: each
// block of tasters gets every order once, shuffled by the seed, and the last block
// a part of them. The same seed gives the same plan.
//
// It reports fault.Invalid for method and tasters (none, or more than MostTasters).
func Serve(m Method, tasters int, seed uint64) ([]Serving, error) {
	var bad fault.Collector
	if m < Triangle || m > DuoTrio {
		bad.Add(fault.At("method"), "invalid-value", "%v is no method", m)
	}
	if tasters < 1 || tasters > MostTasters {
		bad.Add(fault.At("tasters"), "out-of-range", "%d tasters are not 1 to %d", tasters, MostTasters)
	}
	if err := bad.Err("invalid-value", "the plan has no meaning as it stands"); err != nil {
		return nil, err
	}
	draw := splitMix(seed)
	var block []string
	plan := make([]Serving, 0, tasters)
	for range tasters {
		if len(block) == 0 {
			block = m.orders()
			for i := len(block) - 1; i > 0; i-- {
				j := draw.below(i + 1)
				block[i], block[j] = block[j], block[i]
			}
		}
		plan = append(plan, draw.serving(block[0], m == DuoTrio))
		block = block[1:]
	}
	return plan, nil
}

// serving gives each cup a code that no other cup of the taster has.
func (s *splitMix) serving(order string, reference bool) Serving {
	var of Serving
	used := make(map[string]bool)
	for i, letter := range order {
		cup := Cup{Sample: int(letter - 'A'), Reference: reference && i == 0}
		for !cup.Reference && (cup.Code == "" || used[cup.Code]) {
			cup.Code = strconv.Itoa(100 + s.below(900))
		}
		used[cup.Code] = true
		of.Cups = append(of.Cups, cup)
	}
	return of
}

// splitMix is a sequence of numbers that looks random and follows from its seed.
// Source: Steele, Lea and Flood, Fast splittable pseudorandom number generators,
// OOPSLA 2014, from memory; the test holds it against published outputs.
type splitMix uint64

func (s *splitMix) next() uint64 {
	*s += 0x9E3779B97F4A7C15
	z := uint64(*s)
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	return z ^ z>>31
}

// below returns a number from 0 to less than n; what is uneven about it is less
// than n in 2^64.
func (s *splitMix) below(n int) int { return int(s.next() % uint64(n)) } //nolint:gosec // n is small and positive
