package lot

import (
	"errors"

	"greenweight/domain/acidification"
	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
)

// Outlook is how the fermentation of a lot stands, by its record: what it came to,
// when the acid is there, and what is due next.
type Outlook struct {
	Question Fermentation
	Exposure *fermentation.Exposure // nil where NotShown says why
	NotShown *fault.Error           // of the degree-hours; nil where there are any

	Acid         Acidification
	Projection   *acidification.Projection // nil where NotProjected says why
	NotProjected *fault.Error              // nil where there is one

	Due []Due
}

// Outlook judges the fermentation, projects the acid and says what is due. What is
// missing of the record is part of the answer and no error.
func (s State) Outlook() (Outlook, error) {
	var o Outlook
	question, unasked := s.Fermentation()
	o.Question = question
	err := unasked
	if err == nil {
		var e fermentation.Exposure
		if e, err = o.Question.Judge(); err == nil {
			o.Exposure = &e
		}
	}
	if o.NotShown, err = missing(err); err != nil {
		return o, err
	}
	o.Acid, err = s.acidification(question, unasked)
	if err == nil {
		var p acidification.Projection
		if p, err = acidification.Project(o.Acid.Order); err == nil {
			o.Projection = &p
		}
	}
	if o.NotProjected, err = missing(err); err != nil {
		return o, err
	}
	o.Due = s.due(o)
	return o, nil
}

// missing returns what a question can't be answered for, and any other error as it
// is.
func missing(err error) (*fault.Error, error) {
	if f, is := errors.AsType[*fault.Error](err); is {
		return f, nil
	}
	return nil, err
}
