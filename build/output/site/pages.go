package site

import (
	"cmp"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/parallel"
	cautions "benchlore/build/reason/hazard"
	"benchlore/build/reason/search"
	"benchlore/build/reason/verdict"
	"benchlore/schema/casefile"
	"benchlore/schema/terms"
)

// lists are the cases by what they share, each newest first, made once.
type lists struct {
	newest  []*notebook.Case
	symptom map[string][]*notebook.Case
	device  map[string][]*notebook.Case
	fault   map[string][]*notebook.Case
	part    map[string]*partList
	hazard  map[string][]*notebook.Case
	year    map[string][]*notebook.Case
	open    []*notebook.Case
	returns []*notebook.Case
}

func (s *site) makeLists() {
	l := &s.lists
	l.symptom, l.device, l.fault = map[string][]*notebook.Case{}, map[string][]*notebook.Case{}, map[string][]*notebook.Case{}
	l.part = map[string]*partList{}
	l.hazard, l.year = map[string][]*notebook.Case{}, map[string][]*notebook.Case{}
	l.newest = slices.Clone(s.n.Cases)
	slices.SortFunc(l.newest, func(a, b *notebook.Case) int {
		ka, kb := &a.File.Case, &b.File.Case
		return cmp.Or(strings.Compare(cmp.Or(kb.Closed, kb.Opened), cmp.Or(ka.Closed, ka.Opened)), strings.Compare(b.ID(), a.ID()))
	})
	called := make([]cautions.Warnings, len(l.newest))
	parallel.Each(len(called), func(i int) { called[i] = cautions.OfCase(s.n, l.newest[i]) })
	s.cautioned = make(map[*notebook.Case]cautions.Warnings, len(called))
	for i, c := range l.newest {
		k := &c.File.Case
		for _, id := range k.Symptoms {
			l.symptom[id] = append(l.symptom[id], c)
		}
		l.device[c.Device.ID] = append(l.device[c.Device.ID], c)
		l.year[cmp.Or(search.Year(c), "undated")] = append(l.year[cmp.Or(search.Year(c), "undated")], c)
		if k.Cause != nil {
			l.fault[k.Cause.Fault] = append(l.fault[k.Cause.Fault], c)
		}
		for i := range k.Parts {
			l.addPart(c, &k.Parts[i])
		}
		s.cautioned[c] = called[i]
		for _, t := range called[i].Cautions {
			l.hazard[t.ID] = append(l.hazard[t.ID], c)
		}
		if k.Open() && k.From == "" { // what another workshop has open is not on this bench
			l.open = append(l.open, c)
		}
		if k.Returns != "" {
			l.returns = append(l.returns, c)
		}
	}
}

// symptomBlocks groups the symptoms that cases have, by what a person notices.
func (s *site) symptomBlocks(root string) []block {
	var groups []block
	at := map[string]int{}
	for _, t := range s.n.Terms.All(terms.Symptom) {
		n := len(s.lists.symptom[t.ID])
		if n == 0 {
			continue
		}
		group := strings.ToUpper(t.Group[:min(1, len(t.Group))]) + t.Group[min(1, len(t.Group)):]
		group = s.t(cmp.Or(group, "Own"))
		i, ok := at[group]
		if !ok {
			i = len(groups)
			at[group] = i
			groups = append(groups, block{Name: group})
		}
		groups[i].Items = append(groups[i].Items, counted{Name: t.Name, Href: root + "symptoms/" + t.ID + ".html", Count: n})
	}
	return groups
}

func (s *site) home() homePage {
	l := &s.lists
	ours, theirs := apart(l.newest)
	figures := s.count(len(ours), "%d case", "%d cases") + ", " + s.count(len(s.n.Devices), "%d device", "%d devices")
	fixed, known := 0, 0
	for _, c := range ours {
		switch o := c.File.Case.Outcome; {
		case c.File.Case.Open() || o == "unknown" || o == "":
		case o == "fixed":
			fixed++
			known++
		default:
			known++
		}
	}
	if known > 0 {
		figures += s.t("; %d of %d with a known outcome were fixed", fixed, known)
	}
	back, _ := apart(l.returns)
	figures += "; " + s.t("%d came back", len(back))
	if len(theirs) > 0 {
		figures += "; " + s.count(len(theirs), "%d case of other workshops beside them", "%d cases of other workshops beside them")
	}
	open := func(c *notebook.Case) bool { return c.File.Case.Open() }
	closed := slices.DeleteFunc(ours, open)
	others := slices.DeleteFunc(theirs, open)
	return homePage{Frame: s.frame("", s.n.Config.Name), Welcome: s.n.Config.Site.Welcome, Figures: figures + ".",
		Common: s.commonSymptoms(""), Open: s.items("", l.open[:min(10, len(l.open))]),
		Newest: s.items("", closed[:min(12, len(closed))]), Returns: s.items("", back[:min(8, len(back))]),
		Theirs: s.items("", others[:min(12, len(others))])}
}

// apart parts cases into our own and those of other workshops, each in order.
func apart(list []*notebook.Case) (ours, theirs []*notebook.Case) {
	for _, c := range list {
		if c.File.Case.From == "" {
			ours = append(ours, c)
		} else {
			theirs = append(theirs, c)
		}
	}
	return ours, theirs
}

// oursFirst gives the same cases, our own before those of others.
func oursFirst(list []*notebook.Case) []*notebook.Case {
	ours, theirs := apart(list)
	return append(ours, theirs...)
}

// searchPage offers what is common and what is new until something is asked.
func (s *site) searchPage() searchPage {
	const most = 8
	return searchPage{s.frame("", s.t("Search")), s.commonSymptoms(""), s.items("", oursFirst(s.lists.newest)[:min(most, len(s.lists.newest))])}
}

// mostCommon is how many symptoms the first page names.
const mostCommon = 16

// commonSymptoms are those of the most cases, the commonest first.
func (s *site) commonSymptoms(root string) (out []counted) {
	for _, b := range s.symptomBlocks(root) {
		out = append(out, b.Items...)
	}
	slices.SortStableFunc(out, func(a, b counted) int { return cmp.Compare(b.Count, a.Count) })
	return out[:min(mostCommon, len(out))]
}

func (s *site) symptomsPage() listPage {
	p := listPage{Frame: s.frame("", s.t("Symptoms")), Heading: s.t("Symptoms"),
		Lead: s.t("What people notice, and how many cases had it."), Blocks: s.symptomBlocks("")}
	if len(p.Blocks) == 0 {
		p.Empty = s.t("No case has a symptom yet.")
	}
	return p
}

// maxListed bounds the cases on one page; beyond it, search narrows better.
const maxListed = 300

func (s *site) caseBlock(root, name string, list []*notebook.Case) block {
	b := block{Name: name, Cases: s.items(root, list[:min(maxListed, len(list))])}
	if len(list) > maxListed {
		b.Text = s.t("The newest %d of %d; search narrows them down.", maxListed, len(list))
	}
	return b
}

func (s *site) symptomPage(t *terms.Term) listPage {
	const root = "../"
	cases := s.lists.symptom[t.ID]
	p := listPage{Frame: s.frame(root, t.Name), Heading: t.Name, Lead: t.Meaning, Triage: triageHref(root, []string{t.ID}, "")}
	if len(t.Also) > 0 {
		p.Facts = append(p.Facts, fact{Name: s.t("People also say"), Text: strings.Join(t.Also[:min(8, len(t.Also))], ", ")})
	}
	if causes := s.causeCounts(root, cases); len(causes) > 0 {
		p.Blocks = append(p.Blocks, block{Name: s.t("What it turned out to be"), Items: causes})
	}
	p.Blocks = append(p.Blocks, s.caseBlock(root, s.count(len(cases), "%d case", "%d cases"), cases))
	return p
}

// causeCounts counts fault and place over cases with a cause, commonest first.
func (s *site) causeCounts(root string, cases []*notebook.Case) []counted {
	type cause struct{ fault, at string }
	n := map[cause]int{}
	for _, c := range cases {
		if k := c.File.Case.Cause; k != nil {
			n[cause{k.Fault, k.At}]++
		}
	}
	var out []counted
	for k, count := range n {
		out = append(out, counted{Name: s.n.Terms.Name(terms.Fault, k.fault) + ", " + s.n.Terms.Name(terms.Place, k.at),
			Href: root + "faults/" + k.fault + ".html", Count: count})
	}
	slices.SortFunc(out, func(a, b counted) int { return cmp.Or(cmp.Compare(b.Count, a.Count), strings.Compare(a.Name, b.Name)) })
	return out[:min(20, len(out))]
}

func (s *site) devicesPage() listPage {
	p := listPage{Frame: s.frame("", s.t("Devices")), Heading: s.t("Devices"), Lead: s.t("By kind of device.")}
	byKind := map[string][]counted{}
	for _, d := range s.n.Devices {
		n := len(s.lists.device[d.ID])
		byKind[d.Kind] = append(byKind[d.Kind], counted{Name: d.Name(s.n.Terms), Href: "devices/" + d.ID + ".html", Count: n})
	}
	kinds := s.n.Terms.All(terms.Kind)
	for _, t := range kinds {
		if items := byKind[t.ID]; items != nil {
			p.Blocks = append(p.Blocks, block{Name: t.Name, Items: items})
		}
	}
	slices.SortStableFunc(p.Blocks, func(a, b block) int { return strings.Compare(a.Name, b.Name) })
	if len(p.Blocks) == 0 {
		p.Empty = s.t("No device yet.")
	}
	return p
}

func (s *site) faultsPage() listPage {
	p := listPage{Frame: s.frame("", s.t("Faults")), Heading: s.t("Faults"), Lead: s.t("What was wrong, and how often.")}
	var items []counted
	for _, t := range s.n.Terms.All(terms.Fault) {
		if n := len(s.lists.fault[t.ID]); n > 0 {
			items = append(items, counted{Name: t.Name, Href: "faults/" + t.ID + ".html", Count: n})
		}
	}
	slices.SortStableFunc(items, func(a, b counted) int { return cmp.Compare(b.Count, a.Count) })
	if len(items) > 0 {
		p.Blocks = []block{{Name: s.t("By how often"), Items: items}}
	} else {
		p.Empty = s.t("No case has a cause yet.")
	}
	return p
}

func (s *site) faultPage(t *terms.Term) listPage {
	const root = "../"
	cases := s.lists.fault[t.ID]
	p := listPage{Frame: s.frame(root, t.Name), Heading: t.Name, Lead: t.Meaning}
	p.Blocks = append(p.Blocks, block{Name: s.t("Where"), Items: s.placeCounts(root, cases)})
	p.Blocks = append(p.Blocks, s.caseBlock(root, s.count(len(cases), "%d case", "%d cases"), cases))
	return p
}

func (s *site) placeCounts(root string, cases []*notebook.Case) []counted {
	n := map[string]int{}
	for _, c := range cases {
		n[c.File.Case.Cause.At]++
	}
	var out []counted
	for at, count := range n {
		out = append(out, counted{Name: s.n.Terms.Name(terms.Place, at), Href: root + "words.html#places-" + at, Count: count})
	}
	slices.SortFunc(out, func(a, b counted) int { return cmp.Or(cmp.Compare(b.Count, a.Count), strings.Compare(a.Name, b.Name)) })
	return out
}

func (s *site) casesPage() listPage {
	p := listPage{Frame: s.frame("", s.t("Cases")), Heading: s.t("Cases"), Lead: s.t("By the year in which they were opened.")}
	var items []counted
	for year, list := range s.lists.year {
		items = append(items, counted{Name: year, Href: "years/" + year + ".html", Count: len(list)})
	}
	slices.SortFunc(items, func(a, b counted) int { return strings.Compare(b.Name, a.Name) })
	if len(items) == 0 {
		p.Empty = s.t("No case yet.")
		return p
	}
	p.Blocks = []block{{Name: s.t("Years"), Items: items}, s.caseBlock("", s.t("Newest"), oursFirst(s.lists.newest)[:min(50, len(s.lists.newest))])}
	return p
}

func (s *site) yearPage(year string) listPage {
	const root = "../"
	list := s.lists.year[year]
	p := listPage{Frame: s.frame(root, s.t("Cases of %s", year)), Heading: s.t("Cases of %s", year)}
	byMonth := map[string][]*notebook.Case{}
	var months []string
	for _, c := range list {
		m := c.File.Case.Opened
		m = m[:min(7, len(m))]
		if byMonth[m] == nil {
			months = append(months, m)
		}
		byMonth[m] = append(byMonth[m], c)
	}
	slices.Sort(months)
	slices.Reverse(months)
	for _, m := range months {
		p.Blocks = append(p.Blocks, s.caseBlock(root, cmp.Or(m, s.t("undated")), byMonth[m]))
	}
	return p
}

func (s *site) wordsPage() wordsPage {
	p := wordsPage{Frame: s.frame("", s.t("Words"))}
	for _, c := range terms.Classes {
		name, shown := classNames[c]
		if !shown {
			continue
		}
		class := struct {
			ID, Name string
			Terms    []wordView
		}{ID: string(c), Name: s.t(name)}
		for _, t := range s.n.Terms.All(c) {
			w := wordView{ID: t.ID, Anchor: string(c) + "-" + t.ID, Name: t.Name, Meaning: t.Meaning,
				Also: strings.Join(t.Also[:min(2, len(t.Also))], ", ")}
			if c == terms.Kind {
				w.Also = "" // their names say it, and there are many
			}
			if c == terms.Symptom && len(s.lists.symptom[t.ID]) > 0 {
				w.Href = "symptoms/" + t.ID + ".html"
			}
			if c == terms.Fault && len(s.lists.fault[t.ID]) > 0 {
				w.Href = "faults/" + t.ID + ".html"
			}
			class.Terms = append(class.Terms, w)
		}
		p.Classes = append(p.Classes, class)
	}
	return p
}

// classNames are the classes that a case is written with; the others are read in texts.
var classNames = map[terms.Class]string{terms.Symptom: "Symptoms", terms.Before: "What happened before", terms.Fault: "Faults",
	terms.Place: "Places", terms.Origin: "Origins", terms.Hazard: "Hazards", terms.Action: "Actions on parts",
	terms.Result: "Results of checks", terms.Outcome: "Outcomes", terms.Barrier: "Why it was given up",
	terms.Kind: "Kinds of device", terms.Head: "Heads of fasteners", terms.Word: "Words of the bench"}

// partList is every time a kind of part, by value and package, was touched.
type partList struct {
	name  string
	cases []*notebook.Case
	rows  []*casefile.Part // of the case at the same index
}

func (l *lists) addPart(c *notebook.Case, p *casefile.Part) {
	name, slug, ok := verdict.Key(p)
	if !ok {
		return
	}
	if l.part[slug] == nil {
		l.part[slug] = &partList{name: name}
	}
	l.part[slug].cases = append(l.part[slug].cases, c)
	l.part[slug].rows = append(l.part[slug].rows, p)
}

func (s *site) partsPage() listPage {
	p := listPage{Frame: s.frame("", s.t("Parts")), Heading: s.t("Parts"),
		Lead: s.t("Every kind of part that was touched, by value and package, and what came of it.")}
	byKind := map[string][]counted{}
	for slug, list := range s.lists.part {
		kind, _, _ := strings.Cut(list.name, " ")
		byKind[kind] = append(byKind[kind], counted{Name: list.name, Href: "parts/" + slug + ".html", Count: len(list.rows)})
	}
	for kind, items := range byKind {
		slices.SortFunc(items, func(a, b counted) int { return strings.Compare(a.Name, b.Name) })
		p.Blocks = append(p.Blocks, block{Name: s.t(strings.ToUpper(kind[:1]) + kind[1:] + "s"), Items: items})
	}
	slices.SortFunc(p.Blocks, func(a, b block) int { return strings.Compare(a.Name, b.Name) })
	if len(p.Blocks) == 0 {
		p.Empty = s.t("No case names a part with value yet.")
	}
	return p
}

func (s *site) partPage(slug string) listPage {
	const root = "../"
	list := s.lists.part[slug]
	p := listPage{Frame: s.frame(root, list.name), Heading: list.name}
	actions := map[string]int{}
	var cases []*notebook.Case
	var touched []string
	for i, row := range list.rows {
		actions[s.n.Terms.Name(terms.Action, row.Action)]++
		if i == 0 || list.cases[i-1] != list.cases[i] {
			cases = append(cases, list.cases[i])
		}
		line := list.cases[i].ID() + ", " + cmp.Or(row.Ref, row.Part) + ": " + strings.ToLower(s.n.Terms.Name(terms.Action, row.Action))
		if row.Fitted != "" {
			line += " " + s.t("by %s", row.Fitted)
		}
		if j, ok := s.judge.Part(list.cases[i], row); ok {
			line += " (" + j.Text + ")"
		}
		touched = append(touched, line)
	}
	for _, t := range s.n.Terms.All(terms.Action) {
		if n := actions[t.Name]; n > 0 {
			p.Facts = append(p.Facts, fact{Name: t.Name, Text: s.count(n, "%d time", "%d times")})
		}
	}
	p.Blocks = []block{{Name: s.t("What was done"), Lines: touched}, s.caseBlock(root, s.count(len(cases), "%d case", "%d cases"), cases)}
	return p
}
