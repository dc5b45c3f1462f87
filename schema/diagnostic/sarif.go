package diagnostic

import (
	"encoding/json"
	"io"
	"net/url"
)

// What a SARIF 2.1.0 log (OASIS) needs of its objects, by the standard's names; the whole
// model would bring a schema validator into the program. A test validates what is written
// with the library that carries the standard's schema.
type (
	sarifLog struct {
		Schema  string     `json:"$schema"`
		Version string     `json:"version"`
		Runs    []sarifRun `json:"runs"`
	}
	sarifRun struct {
		ColumnKind string        `json:"columnKind"`
		Results    []sarifResult `json:"results"`
		Tool       struct {
			Driver sarifDriver `json:"driver"`
		} `json:"tool"`
	}
	sarifDriver struct {
		InformationURI string      `json:"informationUri"`
		Name           string      `json:"name"`
		Rules          []sarifRule `json:"rules"`
		Version        string      `json:"version"`
	}
	sarifText struct {
		Text string `json:"text"`
	}
	sarifRule struct {
		ID               string    `json:"id"`
		ShortDescription sarifText `json:"shortDescription"`
	}
	sarifResult struct {
		Level     string          `json:"level"`
		Locations []sarifLocation `json:"locations"`
		Message   sarifText       `json:"message"`
		RuleID    string          `json:"ruleId"`
		RuleIndex int             `json:"ruleIndex"`
	}
	sarifLocation struct {
		PhysicalLocation struct {
			ArtifactLocation struct {
				URI string `json:"uri"`
			} `json:"artifactLocation"`
			Region *sarifRegion `json:"region,omitempty"`
		} `json:"physicalLocation"`
	}
	sarifRegion struct {
		EndColumn   int `json:"endColumn"`
		StartColumn int `json:"startColumn"`
		StartLine   int `json:"startLine"`
	}
)

// WriteSARIF prints a SARIF 2.1.0 log (OASIS). Columns are code points, as its
// columnKind says. The version is that of the program that made the report.
func WriteSARIF(w io.Writer, list []Diagnostic, version string) error {
	run := sarifRun{ColumnKind: "unicodeCodePoints", Results: []sarifResult{}}
	run.Tool.Driver = sarifDriver{InformationURI: "urn:benchlore", Name: "benchlore",
		Rules: []sarifRule{}, Version: version}
	index := map[Rule]int{}
	for _, d := range list {
		at, ok := index[d.Rule]
		if !ok {
			at = len(run.Tool.Driver.Rules)
			index[d.Rule] = at
			run.Tool.Driver.Rules = append(run.Tool.Driver.Rules, sarifRule{string(d.Rule), sarifText{d.Rule.Help()}})
		}
		var place sarifLocation
		place.PhysicalLocation.ArtifactLocation.URI = (&url.URL{Path: d.File}).String()
		if d.Line > 0 {
			column := max(d.Column, 1)
			place.PhysicalLocation.Region = &sarifRegion{column + d.Length, column, d.Line}
		}
		run.Results = append(run.Results,
			sarifResult{d.Severity.String(), []sarifLocation{place}, sarifText{d.Message + DidYouMean(d.Suggestion)}, string(d.Rule), at})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(sarifLog{"https://raw.githubusercontent.com/oasis-tcs/sarif-spec/main/sarif-2.1/schema/sarif-schema-2.1.0.json", "2.1.0", []sarifRun{run}})
}
