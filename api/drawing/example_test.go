package drawing_test

import (
	"bytes"
	"fmt"
	"image/png"
	"strings"

	"greenweight/api/drawing"
)

// My chamber has stood at 24 °C for 30 hours, and the pH is not down yet. How near
// is the limit, and when is it reached if nothing changes? By hand: 8.4 degrees
// above 15.6 for 30 hours are 252 degree-hours; 665 - 252 = 413 more take another
// 49.2 hours.
func ExampleDegreeHours_SVG() {
	chart := drawing.DegreeHours{
		Subject: "Lot 12 (invented)", Rule: "Canada", State: "within the limit so far",
		Scale: drawing.Celsius, Base: 15.6, Limit: 665,
		Sum:     []drawing.SumPoint{{Hours: 0, DegreeHours: 0}, {Hours: 30, DegreeHours: 252}},
		Chamber: []drawing.Reading{{Hours: 0, Temperature: 24}, {Hours: 30, Temperature: 24}},
		RunOn:   &drawing.RunOn{Temperature: 24, LimitHours: 79.2},
	}
	var svg strings.Builder
	if err := chart.SVG(&svg); err != nil {
		fmt.Println(err)
		return
	}
	_, rest, _ := strings.Cut(svg.String(), "<title>")
	title, rest, _ := strings.Cut(rest, "</title><desc>")
	desc, _, _ := strings.Cut(rest, "</desc>")
	fmt.Println(title)
	for sentence := range strings.SplitSeq(desc, ". ") {
		fmt.Println("-", sentence)
	}
	// Output:
	// Lot 12 (invented). Canada: within the limit so far
	// - Degree-hours above 15.6 °C against the hours since the start: 252 of 665 °C h after 30 h
	// - Projected: limit at 79.2 h if it stays at 24 °C
	// - Below, on the same hours, the temperature of the chamber, 24 to 24 °C.
}

// A piece has been weighed twice. On which day has it lost 35 percent? The picture
// for a phone.
func ExampleDryDown_PNG() {
	chart := drawing.DryDown{
		Subject: "Piece 4 (invented)", Outcome: drawing.Projected, Target: 35, Now: 10,
		WeighIns: []drawing.WeighIn{{Days: 4, Loss: 8.1}, {Days: 10, Loss: 17.7}},
		Course: []drawing.CoursePoint{
			{Days: 0, Median: 0},
			{Days: 10, Median: 17.7, P50: drawing.Span{Low: 17.4, High: 18}, P80: drawing.Span{Low: 17, High: 18.4}, P90: drawing.Span{Low: 16.8, High: 18.6}},
			{Days: 31, Median: 35, P50: drawing.Span{Low: 33.6, High: 36.4}, P80: drawing.Span{Low: 32, High: 38}, P90: drawing.Span{Low: 31.1, High: 38.9}},
		},
		Day: &drawing.TargetDay{Median: 31, P50: drawing.Span{Low: 28, High: 34}, P80: drawing.Span{Low: 26, High: 39}, P90: drawing.Span{Low: 24, High: 43}},
	}
	var picture bytes.Buffer
	if err := chart.PNG(&picture); err != nil {
		fmt.Println(err)
		return
	}
	config, err := png.DecodeConfig(&picture)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(config.Width, "by", config.Height, "pixels")
	// Output: 1080 by 1200 pixels
}
