package quantity

import "slices"

// Unit is what a value is measured in.
type Unit uint8

// The units a repair notebook meets.
const (
	None Unit = iota
	Ohm
	Farad
	Henry
	Volt
	Ampere
	Watt
	Hertz
	Second
	Celsius
	Percent
	Decibel
	AmpereHour
	WattHour
	Joule
	Metre
	Gram
	Lux
	Bar
	RPM
	VoltAmpere
	Siemens
	Kelvin
	Minute
	Hour
	Newton
	Litre
	DecibelMilliwatt
)

type unitInfo struct {
	symbol   string // as printed; the kelvin in full, since K alone is read as kilo
	name     string // as in JSON
	quantity string // what is measured
	prefixes bool   // takes SI prefixes
}

var units = [...]unitInfo{
	None:       {"", "", "number", false},
	Ohm:        {"Ω", "ohm", "resistance", true},
	Farad:      {"F", "farad", "capacitance", true},
	Henry:      {"H", "henry", "inductance", true},
	Volt:       {"V", "volt", "voltage", true},
	Ampere:     {"A", "ampere", "current", true},
	Watt:       {"W", "watt", "power", true},
	Hertz:      {"Hz", "hertz", "frequency", true},
	Second:     {"s", "second", "time", true},
	Celsius:    {"°C", "degree Celsius", "temperature", false},
	Percent:    {"%", "percent", "ratio", false},
	Decibel:    {"dB", "decibel", "level", false},
	AmpereHour: {"Ah", "ampere hour", "charge", true},
	WattHour:   {"Wh", "watt hour", "energy", true},
	Joule:      {"J", "joule", "energy", true},
	Metre:      {"m", "metre", "length", true},
	Gram:       {"g", "gram", "mass", true},
	Lux:        {"lx", "lux", "illuminance", true},
	Bar:        {"bar", "bar", "pressure", true},
	RPM:        {"/min", "revolutions per minute", "speed of rotation", false},
	VoltAmpere: {"VA", "volt ampere", "apparent power", true},
	Siemens:    {"S", "siemens", "conductance", true},
	Kelvin:     {"kelvin", "kelvin", "temperature difference", false},
	Minute:     {"min", "minute", "time", false},
	Hour:       {"h", "hour", "time", false},
	Newton:     {"N", "newton", "force", true},
	Litre:      {"l", "litre", "volume", true},

	DecibelMilliwatt: {"dBm", "decibel milliwatt", "power level", false},
}

// symbol returns the SI symbol, "Ω" for ohms.
func (u Unit) symbol() string { return units[u].symbol }

// Name returns the unit's English name, "ohm".
func (u Unit) Name() string { return units[u].name }

// Quantity returns what the unit measures, "resistance".
func (u Unit) Quantity() string { return units[u].quantity }

// neverNegative are the units of which less than nothing is nonsense. A meter
// does show negative ohms in a live circuit.
var neverNegative = [...]bool{Farad: true, Henry: true, Hertz: true, AmpereHour: true, WattHour: true, Metre: true,
	Gram: true, Lux: true, RPM: true, Litre: true}

// spellings maps what people write to a unit. Case matters where SI says so
// and is forgiven where nothing else is meant.
var spellings = map[string]Unit{
	"Ω": Ohm, "\u2126": Ohm, "ohm": Ohm, "ohms": Ohm, "Ohm": Ohm, "Ohms": Ohm, "R": Ohm, "OHM": Ohm,
	"F": Farad, "farad": Farad, "H": Henry, "henry": Henry,
	"V": Volt, "v": Volt, "Vdc": Volt, "VDC": Volt, "Vac": Volt, "VAC": Volt, "volt": Volt, "volts": Volt,
	"Volt": Volt, "Volts": Volt, "VOLT": Volt, "Vrms": Volt, "Vpp": Volt,
	"A": Ampere, "amp": Ampere, "amps": Ampere, "Amp": Ampere, "Amps": Ampere, "ampere": Ampere, "amperes": Ampere,
	"Ampere": Ampere, "Adc": Ampere, "Aac": Ampere,
	"W": Watt, "w": Watt, "watt": Watt, "watts": Watt, "Watt": Watt, "Watts": Watt,
	"hertz": Hertz, "Hertz": Hertz, "Hz": Hertz, "hz": Hertz, "HZ": Hertz, "s": Second, "sec": Second,
	"°C": Celsius, "℃": Celsius, "degC": Celsius, "%": Percent, "dB": Decibel, "db": Decibel, "dBm": DecibelMilliwatt,
	"Ah": AmpereHour, "AH": AmpereHour, "ah": AmpereHour, "Wh": WattHour, "WH": WattHour, "J": Joule, "m": Metre,
	"g": Gram, "lx": Lux, "lux": Lux, "bar": Bar, "/min": RPM, "rpm": RPM, "min⁻¹": RPM, "1/min": RPM,
	"VA": VoltAmpere, "S": Siemens, "kelvin": Kelvin, "min": Minute, "h": Hour, "N": Newton, "l": Litre, "L": Litre,
}

// prefix returns the power of ten of the SI prefix at the start of s and its
// length in bytes; ok is false when there is none.
func prefix(s string) (exp, n int, ok bool) {
	if s == "" {
		return 0, 0, false
	}
	switch s[0] {
	case 'f':
		return -15, 1, true
	case 'p':
		return -12, 1, true
	case 'n':
		return -9, 1, true
	case 'u':
		return -6, 1, true
	case 'm':
		return -3, 1, true
	case 'k', 'K':
		return 3, 1, true
	case 'M':
		return 6, 1, true
	case 'G':
		return 9, 1, true
	case 'T':
		return 12, 1, true
	}
	if len(s) >= 2 && (s[:2] == "µ" || s[:2] == "μ") {
		return -6, 2, true
	}
	return 0, 0, false
}

// oldFarads are ways to write farads of old parts and drawings.
var oldFarads = map[string]int{"MFD": -6, "mfd": -6, "Mfd": -6, "MMFD": -12, "mmfd": -12, "MMF": -12, "mmf": -12,
	"uuF": -12, "µµF": -12, "μμF": -12}

// scanUnit reads a whole word as prefix and unit.
func scanUnit(word string) (u Unit, exp int, ok bool) {
	if e, ok := oldFarads[word]; ok {
		return Farad, e, true
	}
	if u, ok := spellings[word]; ok {
		return u, 0, true
	}
	e, n, ok := prefix(word)
	if !ok || n == len(word) {
		return None, 0, false
	}
	u, ok = spellings[word[n:]]
	if !ok || !units[u].prefixes {
		return None, 0, false
	}
	return u, e, true
}

// UnitRow is a unit for programs in other languages.
type UnitRow struct {
	Name, Symbol, Quantity string
	Prefixes               bool // takes SI prefixes
	NeverNegative          bool
	Spellings              []string // that people write
}

// UnitTable lists the units with all their spellings, sorted.
func UnitTable() []UnitRow {
	rows := make([]UnitRow, len(units))
	for u, info := range units {
		rows[u] = UnitRow{Name: info.name, Symbol: info.symbol, Quantity: info.quantity, Prefixes: info.prefixes,
			NeverNegative: u < len(neverNegative) && neverNegative[u], Spellings: []string{}}
	}
	for s, u := range spellings {
		rows[u].Spellings = append(rows[u].Spellings, s)
	}
	for _, r := range rows {
		slices.Sort(r.Spellings)
	}
	return rows
}
