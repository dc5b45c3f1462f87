package site

import "benchlore/schema/sources"

type licencesPage struct {
	Frame   frame
	Sources []sources.Source
}

// licencesPage names the data of others that the words of the pages were made from.
func (s *site) licencesPage() licencesPage {
	return licencesPage{s.frame("", s.t("Sources and licences")), sources.All()}
}
