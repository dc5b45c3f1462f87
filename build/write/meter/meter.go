// Package meter takes readings from an instrument on the bench that speaks SCPI over TCP
// (SCPI-1999 on IEEE 488.2, port 5025 by registration): what it is set to measure, and the
// number that it shows, with its unit. It changes no setting of the instrument.
package meter

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math"
	"net"
	"strconv"
	"strings"
	"sync"
	"time"

	"benchlore/schema/quantity"
)

// Port is the one that IANA has registered for SCPI, taken where an address names none.
const Port = "5025"

const (
	patience = 5 * time.Second // for one answer; a slow range with averaging takes a second or two
	maxLine  = 4 << 10         // bytes of an answer
	overload = 9.9e37          // from which SCPI-1999, volume 1, 7.2.1.4 says infinity
)

// Meter is an instrument that is asked when a reading is wanted. It connects then, and
// again where the connection was lost. It is safe for concurrent use.
type Meter struct {
	address string
	mu      sync.Mutex
	conn    net.Conn
	in      *bufio.Reader
}

// At names an instrument by host and port; nothing is connected yet.
func At(address string) (*Meter, error) {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		host, port = strings.Trim(address, "[]"), Port
	}
	if n, err := strconv.Atoi(port); host == "" || err != nil || n < 1 || n > 65535 {
		return nil, fmt.Errorf("an instrument is HOST or HOST:PORT, such as 192.168.1.20 or dmm.local:%s, not %q", Port, address)
	}
	return &Meter{address: net.JoinHostPort(host, port)}, nil
}

// Reading is what an instrument shows.
type Reading struct {
	What string // voltage, resistance … as a measurement row says it
	Text string // with its unit; OL beyond the range
}

// functions are what CONFigure? answers with, by the first letters that SCPI gives each.
var functions = []struct {
	name, what string
	unit       quantity.Unit
	wave       string
}{
	{"VOLT:AC", "voltage", quantity.Volt, " AC"}, {"VOLT", "voltage", quantity.Volt, ""},
	{"CURR:AC", "current", quantity.Ampere, " AC"}, {"CURR", "current", quantity.Ampere, ""},
	{"FRES", "resistance, four-wire", quantity.Ohm, ""}, {"RES", "resistance", quantity.Ohm, ""},
	{"CAP", "capacitance", quantity.Farad, ""}, {"FREQ", "frequency", quantity.Hertz, ""},
	{"DIOD", "diode", quantity.Volt, ""}, {"CONT", "continuity", quantity.Ohm, ""}, {"TEMP", "temperature", quantity.Celsius, ""},
}

// Name asks the instrument what it is (*IDN?).
func (m *Meter) Name(ctx context.Context) (string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.ask(ctx, "*IDN?")
}

// Read takes the reading that the instrument is set to. The error says what the instrument
// did not answer, or that it measures something without a unit here.
func (m *Meter) Read(ctx context.Context) (Reading, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	set, err := m.ask(ctx, "CONF?")
	if err != nil {
		return Reading{}, err
	}
	function, _, _ := strings.Cut(strings.ToUpper(strings.Trim(set, `" `)), " ")
	for _, f := range functions {
		if !strings.HasPrefix(function, f.name) {
			continue
		}
		answer, err := m.ask(ctx, "READ?")
		if err != nil {
			return Reading{}, err
		}
		first, _, _ := strings.Cut(answer, ",")
		v, err := strconv.ParseFloat(strings.TrimSpace(first), 64)
		if err != nil || math.IsNaN(v) {
			return Reading{}, fmt.Errorf("the instrument answered %q, which is no number", answer)
		}
		if math.Abs(v) >= overload {
			return Reading{f.what, "OL"}, nil
		}
		d, ok := quantity.FromFloat(v, 5)
		if !ok {
			return Reading{}, fmt.Errorf("the instrument answered %q, which is no reading", answer)
		}
		return Reading{f.what, quantity.Value{Number: d, Unit: f.unit}.String() + f.wave}, nil
	}
	return Reading{}, fmt.Errorf("the instrument is set to %q, of which no reading is taken here", set)
}

// ask sends a question and reads its one line. A connection that was lost meanwhile is made
// again once.
func (m *Meter) ask(ctx context.Context, question string) (string, error) {
	fresh := m.conn == nil
	for {
		answer, err := m.once(ctx, question)
		if err == nil {
			return answer, nil
		}
		if m.conn != nil {
			_ = m.conn.Close()
			m.conn = nil
		}
		if fresh || ctx.Err() != nil {
			return "", fmt.Errorf("the instrument at %s does not answer: %w", m.address, err)
		}
		fresh = true
	}
}

var errLong = errors.New("its answer has no end")

func (m *Meter) once(ctx context.Context, question string) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	if m.conn == nil {
		conn, err := new(net.Dialer).DialContext(ctx, "tcp", m.address)
		if err != nil {
			return "", err
		}
		m.conn, m.in = conn, bufio.NewReaderSize(conn, maxLine)
	}
	until, _ := ctx.Deadline()
	if err := m.conn.SetDeadline(until); err != nil {
		return "", err
	}
	stop := context.AfterFunc(ctx, func() { _ = m.conn.SetDeadline(time.Now()) })
	defer stop()
	if _, err := m.conn.Write([]byte(question + "\n")); err != nil {
		return "", err
	}
	line, err := m.in.ReadSlice('\n')
	if errors.Is(err, bufio.ErrBufferFull) {
		return "", errLong
	}
	if err != nil {
		return "", err
	}
	return strings.TrimSpace(string(line)), nil
}

// Close ends the connection.
func (m *Meter) Close() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.conn == nil {
		return nil
	}
	err := m.conn.Close()
	m.conn = nil
	return err
}
