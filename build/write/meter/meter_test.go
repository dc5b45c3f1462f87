package meter

import (
	"bufio"
	"context"
	"net"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// instrument answers as a bench meter does: one line for each question, nothing for a
// command, and it hangs up after so many questions where hangsUp is not 0.
type instrument struct {
	answers  map[string]string
	hangsUp  int
	dialled  atomic.Int32
	listener net.Listener
}

func start(t *testing.T, x *instrument) *Meter {
	t.Helper()
	var err error
	x.listener, err = net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { x.listener.Close() })
	go func() {
		for {
			conn, err := x.listener.Accept()
			if err != nil {
				return
			}
			x.dialled.Add(1)
			go func() {
				defer conn.Close()
				in := bufio.NewScanner(conn)
				for asked := 0; in.Scan(); {
					if asked++; x.hangsUp > 0 && asked > x.hangsUp {
						return
					}
					if answer, ok := x.answers[in.Text()]; ok {
						_, _ = conn.Write([]byte(answer))
					}
				}
			}()
		}
	}()
	m, err := At(x.listener.Addr().String())
	require.NoError(t, err)
	t.Cleanup(func() { m.Close() })
	return m
}

// TestRead: settings and numbers in the forms of SCPI-1999 (NR3, quoted CONFigure?
// answers, 9.9E37 for what is beyond the range).
func TestRead(t *testing.T) {
	for _, c := range []struct{ conf, read, what, text string }{
		{"\"VOLT +1.000000E+01,+1.000000E-05\"\n", "+3.30124000E+00\n", "voltage", "3.3012 V"},
		{"\"VOLT:DC 10,0.00001\"\r\n", "-1.2E-02\r\n", "voltage", "-12 mV"},
		{"\"VOLT:AC +1.0E+03\"\n", "+2.3012E+02\n", "voltage", "230.12 V AC"},
		{"\"RES +1.0E+03\"\n", "+4.7021E+03\n", "resistance", "4.7021 kΩ"},
		{"\"FRES\"\n", "+1.2E-02\n", "resistance, four-wire", "12 mΩ"},
		{"\"DIOD\"\n", "+9.9E+37\n", "diode", "OL"},
		{"\"CURR:DC\"\n", "+1.5E-06,0\n", "current", "1.5 µA"},
		{"\"CAP\"\n", "+1.0E-07\n", "capacitance", "100 nF"},
		{"\"RES\"\n", "-9.91E+37\n", "resistance", "OL"},
	} {
		m := start(t, &instrument{answers: map[string]string{"CONF?": c.conf, "READ?": c.read}})
		r, err := m.Read(context.Background())
		require.NoError(t, err, c.conf)
		r.Text = strings.ReplaceAll(r.Text, "−", "-")
		assert.Equal(t, Reading{c.what, c.text}, r)
	}
}

// TestNotAReading: what is not understood is named, and never taken for a number.
func TestNotAReading(t *testing.T) {
	for says, x := range map[string]*instrument{
		"which is no number":  {answers: map[string]string{"CONF?": "\"VOLT\"\n", "READ?": "busy\n"}},
		`is set to "\"PER\""`: {answers: map[string]string{"CONF?": "\"PER\"\n"}},
		`is set to ""`:        {answers: map[string]string{"CONF?": "\n"}},
		"has no end":          {answers: map[string]string{"CONF?": strings.Repeat("9", maxLine+1)}},
	} {
		_, err := start(t, x).Read(context.Background())
		assert.ErrorContains(t, err, says)
	}
	m := start(t, &instrument{answers: map[string]string{}})
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := m.Read(ctx)
	assert.ErrorContains(t, err, "does not answer", "who waits no longer gets an answer at once")
}

// TestLostConnection: an instrument that hung up meanwhile is dialled again, once.
func TestLostConnection(t *testing.T) {
	x := &instrument{answers: map[string]string{"*IDN?": "ACME,M1,0,1.0\n"}, hangsUp: 1}
	m := start(t, x)
	for range 3 {
		name, err := m.Name(context.Background())
		require.NoError(t, err)
		assert.Equal(t, "ACME,M1,0,1.0", name)
	}
	assert.Equal(t, int32(3), x.dialled.Load())
	x.listener.Close()
	_, err := m.Name(context.Background())
	assert.ErrorContains(t, err, "does not answer")
}

func TestAt(t *testing.T) {
	for given, want := range map[string]string{"192.0.2.7": "192.0.2.7:5025", "dmm.local:5555": "dmm.local:5555", "[2001:db8::7]:1": "[2001:db8::7]:1",
		"2001:db8::7": "[2001:db8::7]:5025"} {
		m, err := At(given)
		require.NoError(t, err, given)
		assert.Equal(t, want, m.address)
	}
	for _, given := range []string{"", ":5025", "dmm:0", "dmm:99999", "dmm:port"} {
		_, err := At(given)
		assert.ErrorContains(t, err, "HOST or HOST:PORT", given)
	}
}
