package lot_test

import (
	"fmt"
	"time"

	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// I stuffed two rings on Monday and hung them on Wednesday. The scale stood on
// kilograms when I weighed one, which I saw afterwards. What has it lost? (An
// invented lot; 546 - 12 = 534 of 600 g are left, and 11 % lost.)
func ExampleRecord_Admit() {
	shoulder, _ := material.ByKey("pork-shoulder-whole-lean-and-fat")
	monday := time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)
	ring := func(name string) lot.Piece {
		return lot.Piece{Name: name, Weight: quantity.MustGrams(612), Tare: quantity.MustGrams(12)}
	}
	var record lot.Record
	for _, told := range []lot.Told{
		{HappenedAt: monday, Fact: lot.Planned{Name: "rings", Jurisdiction: rulebook.UnitedStates, Formula: formula.Formula{
			Name: "plain", Product: rulebook.DrySausage,
			Parts: []formula.Part{{Name: "shoulder", Material: shoulder, Share: quantity.MustPercent(100)}},
		}}},
		{HappenedAt: monday.Add(2 * time.Hour), Fact: lot.Mixed{}},
		{HappenedAt: monday.Add(3 * time.Hour), Fact: lot.Stuffed{Pieces: []lot.Piece{ring("A"), ring("B")}}},
		{HappenedAt: monday.AddDate(0, 0, 2), Fact: lot.Hung{Room: "cellar"}},
		{HappenedAt: monday.AddDate(0, 0, 6), Fact: lot.Weighed{Piece: "A", Weight: quantity.MustGrams(0.546)}},
		{HappenedAt: monday.AddDate(0, 0, 7), Fact: lot.Corrected{
			Entry: 5, Reason: "it was kilograms", Right: lot.Told{Fact: lot.Weighed{Piece: "A", Weight: quantity.MustGrams(546)}},
		}},
	} {
		admitted, err := record.Admit(monday.AddDate(0, 0, 7), []lot.Told{told})
		if err != nil {
			fmt.Println(err)
			return
		}
		for _, a := range admitted {
			for _, doubt := range a.Doubts {
				fmt.Println("doubtful:", doubt.Code)
			}
			head := record.Head() // a service seals what it keeps with a digest of its canonical form
			if record, err = record.With(lot.Read{Told: a.Told, Entry: lot.Entry{
				Sequence: head.Sequence + 1, Kind: a.Told.Fact.Kind(), HappenedAt: a.HappenedAt, Doubts: a.Doubts,
				Previous: head.Digest, Digest: lot.DigestOf(fmt.Append(nil, head, a.Told)),
			}}); err != nil {
				fmt.Println(err)
				return
			}
		}
	}
	state := record.State()
	piece, _ := state.Piece("A")
	fmt.Println(state.Stage, "in the", piece.Room)
	fmt.Println("lost", piece.Latest.Loss, "by", piece.Latest.At.Format(time.DateOnly))
	fmt.Println("told by entry", piece.Latest.Sequence, "of", state.Entries)
	// Output:
	// doubtful: no-weight
	// drying in the cellar
	// lost 11 % by 2026-11-08
	// told by entry 5 of 6
}
