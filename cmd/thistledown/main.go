// Command thistledown answers where a sounding balloon will come down, how
// sure that is and what is there. README.md tells how to use it.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"example.org/thistledown/internal/fetch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/wind"
)

// version is printed with every answer.
const version = "0.1.0"

// Exit statuses.
const (
	done        = 0
	noGo        = 1 // the answer, where --gate asks for it
	badInput    = 2
	noForecast  = 3
	internal    = 4
	interrupted = 130 // as shells have it for an interrupt
)

// errInternal is wrapped by errors that are nobody's input's fault.
var errInternal = errors.New("internal error")

// errNoGo is a plan's limits saying so: an answer, and no fault.
var errNoGo = errors.New("no-go")

type commands struct {
	Size    size           `cmd:"" help:"From the weighed parts of a train: gas, ascent, burst, fall, landing, batteries."`
	Fly     fly            `cmd:"" help:"Fly one launch a thousand times: where it comes down, how sure that is, what is there."`
	Week    week           `cmd:"" help:"Look at every launch time that the forecast covers: which is the best, and why."`
	Vary    vary           `cmd:"" help:"Look for better plans: another fill, envelope, canopy, hour or site, or less to carry."`
	Chase   chase          `cmd:"" help:"Say where a flight under way comes down by where it was seen, and where to look for it."`
	Notice  notice         `cmd:"" help:"Write what the plan's rules ask to be told, and to whom, at one stage of a flight."`
	Label   label          `cmd:"" help:"Make the label for the payload, in two sizes."`
	Nightly night          `cmd:"" help:"Look at the week of standing sites, and write pages of it."`
	Log     logs           `cmd:"" help:"Look over or copy the history that nightly keeps."`
	Serve   serve          `cmd:"" help:"Answer the same question over gRPC."`
	Winds   winds          `cmd:"" help:"Look at forecasts, check them, pack them."`
	Ground  groundCommands `cmd:"" help:"Bring open land cover and heights."`

	Version kong.VersionFlag `help:"Print the version and leave."`
}

const description = `Where will the balloon come down, how sure is that, and what is there?

Exit status: 0 done, 1 the answer is no-go (only with --gate), 2 bad input, 3 no usable forecast, 4 internal error, 130 interrupted.`

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// run is the whole program but for the process around it.
func run(args []string, out, errs io.Writer) (code int) {
	defer func() {
		if r := recover(); r != nil {
			_, _ = fmt.Fprintf(errs, "thistledown: internal error: %v\n%s", r, debug.Stack())
			code = internal
		}
	}()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	left := -1 // what kong would have left with
	c := commands{}
	parser, err := kong.New(&c,
		kong.Name("thistledown"), kong.Description(description), kong.UsageOnError(),
		kong.Vars{"version": version}, kong.Writers(out, errs),
		kong.Exit(func(code int) { left = code }),
	)
	if err != nil {
		_, _ = fmt.Fprintf(errs, "thistledown: %v\n", err)
		return internal
	}
	parsed, err := parser.Parse(args)
	if left >= 0 {
		return left
	}
	if err != nil {
		_, _ = fmt.Fprintf(errs, "thistledown: %v; see thistledown --help\n", err)
		return badInput
	}
	parsed.BindTo(ctx, (*context.Context)(nil))
	err = parsed.Run(&streams{out: out, err: errs})
	code = status(err)
	switch code {
	case done, noGo:
	case interrupted:
		_, _ = fmt.Fprintln(errs, "thistledown: interrupted")
	default:
		for line := range strings.SplitSeq(err.Error(), "\n") {
			_, _ = fmt.Fprintf(errs, "thistledown: %s\n", line)
		}
	}
	return code
}

// streams are where a command writes.
type streams struct{ out, err io.Writer }

// status is the exit status that an error stands for.
func status(err error) int {
	var faults plan.Faults
	var notCovered *mission.NotCovered
	switch {
	case err == nil:
		return done
	case errors.Is(err, errNoGo):
		return noGo
	case errors.Is(err, context.Canceled):
		return interrupted
	case errors.As(err, &notCovered), errors.Is(err, wind.ErrNoWind), errors.Is(err, fetch.ErrNothingNew):
		return noForecast
	case errors.As(err, &faults):
		return badInput
	case errors.Is(err, errInternal):
		return internal
	}
	// What is left are files that cannot be read, written or understood.
	return badInput
}
