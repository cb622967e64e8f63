package finish

import (
	"slices"
	"strconv"
	"strings"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/pathogen"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Tree is a rule held against the facts.
type Tree struct {
	Rule   rulebook.Stability
	Status finding.Status
	Nodes  []Node // in the order of drawing: each node before its branches
}

// Node is a node of a tree, held against the facts.
type Node struct {
	Rule     rulebook.Node
	Parent   int // index in the nodes of the tree, -1 for the root
	Depth    int
	Status   finding.Status
	Reason   string
	Remedy   string
	Measured finding.Figure
	Source   source.Citation
	Members  [][]string
	Missing  Measurements // of a condition: what, measured or stated, may show it
}

// Rules returns every tree: those of the rulebook, and the criteria on Listeria,
// which package pathogen holds as limits.
func Rules() []rulebook.Stability {
	all := rulebook.Stabilities()
	for _, l := range pathogen.Limits() {
		if l.Sort != pathogen.Criterion {
			continue
		}
		for _, j := range l.Rulebooks {
			all = append(all, criterion(l, j))
		}
	}
	return all
}

// criterion makes a tree of a criterion of one rulebook.
func criterion(l pathogen.Limit, j rulebook.Jurisdiction) rulebook.Stability {
	id := l.ID
	if len(l.Rulebooks) > 1 {
		id = j.String() + "-" + l.ID
	}
	s := rulebook.Stability{
		ID: id, Jurisdiction: j, Subject: l.Organism.Name() + ": whether it counts as unable to support its growth", Claim: rulebook.NoListeriaGrowth,
		Authority: l.Authority, Source: l.Source, Note: l.Note, Root: rulebook.Node{ID: id, Says: l.Printed, Join: rulebook.AnyOf},
	}
	for i, a := range l.Any {
		branch := rulebook.Node{ID: "way-" + strconv.Itoa(i+1), Says: "both", Join: rulebook.AllOf}
		for _, b := range a {
			n := rulebook.Node{ID: branch.ID + "-" + b.Of.String(), Fact: rulebook.FinalPH, Comparator: b.Comparator, Limit: b.Limit, Says: saysOf(b)}
			if b.Of == pathogen.Activity {
				n.Fact = rulebook.FinalActivity
			}
			branch.Of = append(branch.Of, n)
		}
		if len(branch.Of) == 1 {
			branch = branch.Of[0]
		}
		s.Root.Of = append(s.Root.Of, branch)
	}
	return s
}

func saysOf(b pathogen.Bound) string {
	words := map[rulebook.Comparator]string{rulebook.AtMost: "at most", rulebook.Below: "below", rulebook.AtLeast: "at least", rulebook.Above: "above"}
	name := "pH"
	if b.Of == pathogen.Activity {
		name = "water activity"
	}
	return name + " " + words[b.Comparator] + " " + short(b.Limit.Value())
}

// trees holds the facts against the trees of the rulebooks asked for, and those of
// practice. In Denmark and Germany those of the European Union hold.
func (j *judge) trees() []Tree {
	var all []Tree
	for _, s := range Rules() {
		if s.Jurisdiction != 0 && !j.asks(s.Jurisdiction) {
			continue
		}
		t := Tree{Rule: s}
		if !j.concerns(s) {
			t.Status = finding.NotApplicable
			t.Nodes = []Node{{
				Rule: s.Root, Parent: -1, Status: finding.NotApplicable, Source: s.Source, Members: member("formula", "product"),
				Reason: "it is a rule for raw, dried sausage, and this product is none",
			}}
			all = append(all, t)
			continue
		}
		t.grow(j, s.Root, -1, 0)
		t.Status = t.Nodes[0].Status
		all = append(all, t)
	}
	return all
}

// asks reports whether the rules of a jurisdiction are asked for.
func (j *judge) asks(of rulebook.Jurisdiction) bool {
	european := of == rulebook.EuropeanUnion && (slices.Contains(j.Rulebooks, rulebook.Denmark) || slices.Contains(j.Rulebooks, rulebook.Germany))
	return european || slices.Contains(j.Rulebooks, of)
}

// concerns reports whether a tree is for the product.
func (j *judge) concerns(s rulebook.Stability) bool {
	return s.Claim != rulebook.KeepsWithoutCold || j.Formula == nil || rawSausage(*j.Formula)
}

func rawSausage(f formula.Formula) bool {
	switch f.Product {
	case rulebook.DrySausage, rulebook.SemiDrySausage:
		return true
	case rulebook.TraditionalProduct:
		return f.Tradition.Sausage()
	default:
		return false
	}
}

// grow adds a node and its branches, and judges them from the leaves up.
func (t *Tree) grow(j *judge, n rulebook.Node, parent, depth int) finding.Status {
	at := len(t.Nodes)
	from := n.Source
	if from == (source.Citation{}) {
		from = t.Rule.Source
	}
	branches := n.Of
	n.Of = nil
	t.Nodes = append(t.Nodes, Node{Rule: n, Parent: parent, Depth: depth, Source: from})
	if n.Join == 0 {
		l := j.judgeFact(n, t.Rule.Jurisdiction)
		status := trusted(l.status, from.Trust)
		if status != l.status {
			l.reason += "; the limit is known from memory only and not verified, so that keeping it shows nothing"
		}
		if from.Trust == source.Memory {
			l.missing = 0
		}
		node := &t.Nodes[at]
		node.Status, node.Reason, node.Remedy, node.Measured, node.Members, node.Missing = status, clipped(l.reason), l.remedy, l.measured, l.members, l.missing
		return status
	}
	of := make([]finding.Status, 0, len(branches))
	for _, b := range branches {
		of = append(of, t.grow(j, b, at, depth+1))
	}
	t.Nodes[at].Status = join(n.Join, of)
	t.Nodes[at].Reason = t.why(at)
	return t.Nodes[at].Status
}

// branches returns the branches of a node.
func (t *Tree) branches(at int) []int {
	var all []int
	for i := at + 1; i < len(t.Nodes); i++ {
		if t.Nodes[i].Parent == at {
			all = append(all, i)
		}
	}
	return all
}

// why says which branches decide a node.
func (t *Tree) why(at int) string {
	n := t.Nodes[at]
	var decide []string
	for _, b := range t.branches(at) {
		if t.Nodes[b].Status == n.Status {
			decide = append(decide, t.Nodes[b].Rule.Says)
		}
	}
	if len(decide) == 0 {
		return "nothing of it is asked here"
	}
	asked := "all of them are asked"
	if n.Rule.Join == rulebook.AnyOf {
		asked = "one of them is enough"
	}
	return asked + "; " + n.Status.String() + ": " + strings.Join(decide, "; ")
}

// finding tells a tree as a finding.
func (t Tree) finding() finding.Finding {
	f := finding.Finding{
		Code: t.Rule.Claim.String(), LimitID: t.Rule.ID, Status: t.Status, Stage: finding.Finish, Authority: t.Rule.Authority, Subject: t.Rule.Subject,
		Reason: t.Nodes[0].Reason, Source: t.Rule.Source,
	}
	if t.Rule.Jurisdiction != 0 {
		f.Rulebook = t.Rule.Jurisdiction.String()
	}
	for _, n := range t.Nodes {
		for _, m := range n.Members {
			if !slices.ContainsFunc(f.Members, func(o []string) bool { return slices.Equal(o, m) }) {
				f.Members = append(f.Members, m)
			}
		}
	}
	return f
}
