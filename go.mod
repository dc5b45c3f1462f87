module benchlore

go 1.26.0

require (
	github.com/agnivade/levenshtein v1.2.2
	github.com/blevesearch/snowballstem v0.9.0
	github.com/owenrumney/go-sarif/v3 v3.3.1
	go.yaml.in/yaml/v3 v3.0.6
)

require (
	github.com/natefinch/atomic v1.0.1 // indirect
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3 // indirect
	github.com/stretchr/testify v1.12.1 // indirect
	github.com/xeipuuv/gojsonpointer v0.0.0-20180127040702-4e3ac2762d5f // indirect
	github.com/xeipuuv/gojsonreference v0.0.0-20180127040603-bd5ef7bd5415 // indirect
	github.com/xeipuuv/gojsonschema v1.2.0 // indirect
	github.com/yuin/goldmark v1.8.7 // indirect
	golang.org/x/text v0.44.0 // indirect
)
