package acidification

func (out *Projection) judge(o Order)             {}
func (out *Projection) remark(o Order, t *teller) {}
