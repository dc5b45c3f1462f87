package site

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchlore/build/output/wording"
	"benchlore/build/reason/figures"
)

// TestLastMonths: a month without a case is a month too.
func TestLastMonths(t *testing.T) {
	list := []figures.Month{{Month: "2025-11", Opened: 4}, {Month: "2026-01", Opened: 1, Closed: 2}}
	assert.Equal(t, []figures.Month{{Month: "2025-11", Opened: 4}, {Month: "2025-12"}, {Month: "2026-01", Opened: 1, Closed: 2}}, lastMonths(list, 24))
	assert.Equal(t, []figures.Month{{Month: "2025-12"}, {Month: "2026-01", Opened: 1, Closed: 2}}, lastMonths(list, 2))
	assert.Empty(t, lastMonths(nil, 24))
	s := &site{texts: wording.In("en")}
	assert.Equal(t, "1.7 opened and 0.7 closed a month; the most, 4, in 2025-11.", s.monthsSaid(lastMonths(list, 24)))
	drawn := string(s.monthsDrawn(lastMonths(list, 24)))
	assert.Contains(t, drawn, `<rect class="opened" x="34.0" y="10.0" width="9" height="150.0">`, "the longest column is as high as the drawing")
	assert.Equal(t, 1, strings.Count(drawn, `class="year"`)-strings.Count(drawn, `>2025</text>`), "each year once")
	assert.Empty(t, s.monthsDrawn(lastMonths(list, 1)), "one month is no series")
}
