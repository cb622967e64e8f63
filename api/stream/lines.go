package stream

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
)

// TooLongError is the error of a line that is longer than a line may be.
type TooLongError struct{ Most int }

// Error says how long a line may be.
func (e *TooLongError) Error() string {
	return fmt.Sprintf("the line is longer than %d bytes", e.Most)
}

// lines are the lines of a text.
type lines struct {
	in     *bufio.Reader
	number int64
	most   int
}

// Lines returns the lines of a text that end in a line feed, of at most so many
// bytes without it; the last may lack it. Lines of white space alone are passed
// over but counted. A longer line comes with a *[TooLongError] and without its
// text, which is never held.
func Lines(in io.Reader, most int) Source {
	return &lines{in: bufio.NewReaderSize(in, most+1), most: most}
}

// Next implements [Source].
func (l *lines) Next() (Line, error) {
	for {
		l.number++
		text, err := l.in.ReadSlice('\n')
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			return l.skip()
		case err != nil && !errors.Is(err, io.EOF):
			return Line{Number: l.number}, err
		}
		text = bytes.TrimSuffix(text, []byte{'\n'})
		switch blank := len(bytes.TrimLeft(text, " \t\r")) == 0; {
		case blank && err != nil:
			return Line{}, io.EOF
		case blank:
			continue
		case len(text) > l.most: // the last line, of one byte more
			return Line{Number: l.number, Err: &TooLongError{l.most}}, nil
		}
		return Line{Number: l.number, Text: text}, nil
	}
}

// skip reads a line that is too long to its end.
func (l *lines) skip() (Line, error) {
	for {
		_, err := l.in.ReadSlice('\n')
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
		case err == nil, errors.Is(err, io.EOF):
			return Line{Number: l.number, Err: &TooLongError{l.most}}, nil
		default:
			return Line{Number: l.number}, err
		}
	}
}
