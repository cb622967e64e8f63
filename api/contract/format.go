package contract

import (
	"regexp"

	"github.com/getkin/kin-openapi/openapi3"
)

// stringFormat is a format of strings: its check, and in words what it wants.
type stringFormat struct {
	ok    func(text []byte) bool
	words string
}

var uuidPattern = regexp.MustCompile(openapi3.FormatOfStringForUUIDOfRFC9562)

var stringFormats = map[string]*stringFormat{
	"date":      {isDate, "a date such as 2026-01-31"},
	"date-time": {isInstant, "an instant with its offset such as 2026-01-31T08:30:00+01:00"},
	"uuid":      {uuidPattern.Match, "a UUID such as 01890a5d-ac96-774b-bcce-b302099a8057"},
}

// isDate tells whether text is a full-date of RFC 3339, section 5.6, with a day
// that its month has (section 5.7).
func isDate(text []byte) bool {
	if len(text) != len("2006-01-02") || text[4] != '-' || text[7] != '-' {
		return false
	}
	year, month, day := digits(text[:4]), digits(text[5:7]), digits(text[8:])
	return year >= 0 && month >= 1 && month <= 12 && day >= 1 && day <= monthDays(year, month)
}

// isInstant tells whether text is a date-time of RFC 3339, section 5.6, in
// capitals. The second 60 is refused: neither the decoder nor the store has it.
func isInstant(text []byte) bool {
	const seconds = len("2006-01-02T15:04:05")
	if len(text) <= seconds || !isDate(text[:10]) || text[10] != 'T' ||
		!isClock(text[11:16]) || text[16] != ':' || !within(digits(text[17:seconds]), 59) {
		return false
	}
	rest := text[seconds:]
	if rest[0] == '.' {
		n := 1
		for n < len(rest) && rest[n] >= '0' && rest[n] <= '9' {
			n++
		}
		if n == 1 || n == len(rest) {
			return false
		}
		rest = rest[n:]
	}
	if rest[0] == 'Z' {
		return len(rest) == 1
	}
	return (rest[0] == '+' || rest[0] == '-') && isClock(rest[1:])
}

// isClock tells whether text is hours and minutes, 00:00 to 23:59.
func isClock(text []byte) bool {
	return len(text) == len("15:04") && text[2] == ':' &&
		within(digits(text[:2]), 23) && within(digits(text[3:]), 59)
}

func within(n, most int) bool { return n >= 0 && n <= most }

// digits returns the number that text writes in decimal digits, or -1.
func digits(text []byte) int {
	n := 0
	for _, d := range text {
		if d < '0' || d > '9' {
			return -1
		}
		n = 10*n + int(d-'0')
	}
	return n
}

func monthDays(year, month int) int {
	switch month {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}
