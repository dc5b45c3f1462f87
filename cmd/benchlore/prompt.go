package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/write/interview"
	"benchlore/schema/terms"
)

// prompt asks questions on a terminal. Ctrl-C ends a question at once: lines are
// read beside it, since nothing can wake a read.
type prompt struct {
	ctx   context.Context
	lines chan string
	out   io.Writer
}

// errInterrupted is returned where somebody pressed Ctrl-C at a question, and
// errInputEnded where there are no more answers.
var (
	errInterrupted = errors.New("interrupted")
	errInputEnded  = errors.New("the answers ended early")
)

func newPrompt(ctx context.Context, in io.Reader, out io.Writer) *prompt {
	p := &prompt{ctx, make(chan string), out}
	go func() {
		defer close(p.lines)
		lines := bufio.NewScanner(in)
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			select {
			case p.lines <- strings.TrimSpace(lines.Text()):
			case <-ctx.Done():
				return
			}
		}
	}()
	return p
}

// line asks for one line; an empty answer is fine.
func (p *prompt) line(question string) (string, error) {
	fmt.Fprint(p.out, question)
	select {
	case line, ok := <-p.lines:
		if !ok {
			fmt.Fprintln(p.out)
			return "", errInputEnded
		}
		return line, nil
	case <-p.ctx.Done():
		fmt.Fprintln(p.out)
		return "", errInterrupted
	}
}

// ask puts a question until its answer is taken. ? lists the choices, and back
// goes one question back.
func (p *prompt) ask(q interview.Question) (string, error) {
	var near []*terms.Term // that the last refusal offered, by their numbers
	for {
		mark := ": "
		if strings.HasSuffix(q.Text, "  ") {
			mark = ""
		}
		answer, err := p.line(q.Text + mark)
		switch {
		case err != nil:
			return "", err
		case answer == "?":
			p.choices(q.Choices)
			continue
		case answer == "back" || answer == "<":
			return "", interview.ErrBack
		}
		if n, err := strconv.Atoi(answer); err == nil && n > 0 && n <= len(near) {
			answer = near[n-1].ID
		}
		kept, err := q.Take(answer)
		if err == nil {
			return kept, nil
		}
		near = p.refuse(err)
	}
}

// refuse says why an answer was not taken; where a word is not known or means several,
// with the nearest by meaning, numbered, which it returns.
func (p *prompt) refuse(err error) []*terms.Term {
	var u *notebook.Unsettled
	if !errors.As(err, &u) {
		fmt.Fprintf(p.out, "  ! %s\n", safe(err.Error()))
		return nil
	}
	switch {
	case u.Several:
		fmt.Fprintf(p.out, "  ! %q may mean several:\n", safe(u.Word))
	case len(u.Near) > 0:
		fmt.Fprintf(p.out, "  ! %q is not a known %s; near it are\n", safe(u.Word), u.Class.Singular())
	default:
		fmt.Fprintf(p.out, "  ! %q is not a known %s; type ? for the list\n", safe(u.Word), u.Class.Singular())
		return nil
	}
	for i, t := range u.Near {
		fmt.Fprintf(p.out, "    %d  %-20s  %s\n", i+1, safe(t.ID), safe(t.Name))
	}
	fmt.Fprintln(p.out, "  type a number, other words, or ? for the list")
	return u.Near
}

func (p *prompt) choices(list []interview.Choice) {
	if len(list) == 0 {
		fmt.Fprintln(p.out, "  any words; nothing leaves it out, back goes one question back")
		return
	}
	longest := 0
	for _, c := range list {
		longest = max(longest, len([]rune(c.Word)))
	}
	for _, c := range list {
		fmt.Fprintf(p.out, "  %-*s  %s\n", min(longest, 26), safe(c.Word), safe(c.Meaning))
	}
}

// choose asks for one of some words until it is one.
func (p *prompt) choose(question string, usual string, words ...string) (string, error) {
	for {
		answer, err := p.line(question)
		if err != nil {
			return "", err
		}
		if answer == "" && usual != "" {
			return usual, nil
		}
		if i := slices.IndexFunc(words, func(w string) bool {
			return strings.EqualFold(w, answer) || len(answer) == 1 && strings.EqualFold(w[:1], answer)
		}); i >= 0 {
			return words[i], nil
		}
		fmt.Fprintf(p.out, "  ! answer %s\n", strings.Join(words, " or "))
	}
}
