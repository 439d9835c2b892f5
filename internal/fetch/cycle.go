package fetch

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"example.org/thistledown/internal/archive"
)

// tasks are the files of a cycle.
type task struct {
	job
	step int // hours
	set  fileSet
}

// stage is the folder in which crops of a cycle are gathered. Another box, or
// other members, have another; other steps have not.
func (p *puller) stage(cycle time.Time) string {
	what := sumOf(fmt.Appendf(nil, "%v %g %d", p.o.Box, p.src.TopHPa, p.o.Members))[:8]
	return filepath.Join(p.o.Folder, fmt.Sprintf(".pull-%s-%s-%s", p.src.Name, stamp(cycle), what))
}

func stamp(t time.Time) string { return t.UTC().Format("20060102T1504Z") }

// tasks lists the files of a cycle's steps.
func (p *puller) tasks(cycle time.Time, steps []int, stage string) []*task {
	var all []*task
	for _, step := range steps {
		for i, set := range p.src.Files {
			names, _ := set.members() // was checked when the source was read
			if p.o.Members > 0 {
				names = names[:min(len(names), p.o.Members)]
			}
			if len(names) == 0 {
				names = []string{""}
			}
			if set.Numbers > 0 && p.o.Members == 1 {
				continue // the control is in another file
			}
			for _, name := range names {
				address := p.root + "/" + fill(set.Path, cycle, step, name)
				t := &task{step: step, set: set}
				t.remote.address, t.control = address, set.As == "control"
				if p.o.Root == "" { // elsewhere there may be none
					t.filter = fill(set.Filter, cycle, step, name)
				}
				t.index = address + ".idx"
				if p.src.Index == "index" {
					t.index = strings.TrimSuffix(address, path.Ext(address)) + ".index"
				}
				t.crops = filepath.Join(stage, fmt.Sprintf("f%03d-%d%s.grib2", step, i, name))
				all = append(all, t)
			}
		}
	}
	return all
}

// read reads a task's index.
func (p *puller) read(ctx context.Context, t *task, cycle time.Time) error {
	text, err := p.web.whole(ctx, t.index, maxIndex, nil)
	if err != nil {
		return err
	}
	fault := func(err error) error { return fmt.Errorf("%s: %w", t.index, err) }
	entries, err := readIndex(p.src.Index, text)
	if err != nil {
		return fault(err)
	}
	if t.set.Numbers > 0 {
		most := t.set.Numbers
		if p.o.Members > 0 {
			most = min(most, p.o.Members-1)
		}
		entries = slices.DeleteFunc(entries, func(e entry) bool { return e.ident.member.Number > most })
	}
	if t.messages, err = wanted(entries, cycle, p.src.TopHPa); err != nil {
		return fault(err)
	}
	t.octets = 0
	winds := false
	for _, m := range t.messages {
		t.octets += m.length
		for _, i := range m.fields {
			winds = winds || i.field().Level.Value > 0
			if i.step != time.Duration(t.step)*time.Hour {
				return fault(fmt.Errorf("%w: %v: want the step %d h", errWrong, i, t.step))
			}
		}
	}
	if t.filter != "" {
		t.octets = int64(float64(t.octets) * cutShare(p.o.Box))
	}
	if !winds {
		return fault(fmt.Errorf("%w: none of the fields that flights need is in it", errWrong))
	}
	t.sum = sumOf(text)
	return nil
}

// cycle pulls one cycle.
func (p *puller) cycle(ctx context.Context, cycle time.Time, steps []int) (Pulled, error) {
	stage := p.stage(cycle)
	all := p.tasks(cycle, steps, stage)
	// The last file comes last: where it is missing nothing else need be asked for.
	last := all[len(all)-1]
	g := &gauge{p: Progress{Cycle: cycle, Of: len(all), Left: -1}, tell: p.tell, now: p.c.Now}
	g.change(func(*Progress) {})
	if err := p.read(ctx, last, cycle); err != nil {
		return Pulled{}, err
	}
	g.change(func(p *Progress) { p.Indexes++ })
	rest := all[:len(all)-1]
	err := p.each(ctx, len(rest), func(ctx context.Context, i int) error {
		err := p.read(ctx, rest[i], cycle)
		g.change(func(p *Progress) { p.Indexes++ })
		return err
	})
	if err != nil {
		return Pulled{}, err
	}
	if err := os.MkdirAll(stage, 0o755); err != nil { //nolint:gosec // forecasts are for everybody to read
		return Pulled{}, diskError{err}
	}
	total := int64(0)
	for _, t := range all {
		total += t.octets
	}
	g.begin(total)
	err = p.each(ctx, len(all), func(ctx context.Context, i int) error { return p.file(ctx, all[i], cycle, g) })
	if err != nil {
		return Pulled{}, err
	}
	pulled, err := p.pack(ctx, cycle, steps, all, g)
	pulled.Octets = g.p.Total
	return pulled, err
}

// file fetches a task. Where the file and its index turn out not to belong
// together both are read anew, twice: they may be replaced just now.
func (p *puller) file(ctx context.Context, t *task, cycle time.Time, g *gauge) error {
	c := &cropper{box: p.o.Box}
	for n := 0; ; n++ {
		came := int64(0)
		bring := t.fetch
		if t.filter != "" {
			bring = t.fetchCut
		}
		err := bring(ctx, p.web, c, func(octets int64, before bool) {
			came += octets
			g.change(func(p *Progress) {
				p.Done += octets
				if before {
					g.had += octets
				}
			})
		})
		if err == nil && t.filter != "" {
			g.change(func(p *Progress) { p.Total += came - t.octets })
		}
		if err == nil || n == 2 || !errors.Is(err, errChanged) && !errors.Is(err, errWrong) {
			if err != nil && !strings.Contains(err.Error(), t.remote.address) {
				err = fmt.Errorf("%s: %w", t.remote.address, err)
			}
			return err
		}
		before, sum := t.octets, t.sum
		if err := p.c.Wait(ctx, firstWait<<n); err != nil {
			return err
		}
		if err := p.read(ctx, t, cycle); err != nil {
			return err
		}
		if errors.Is(err, errChanged) || sum != t.sum {
			// What was kept is of the file as it was.
			if err := os.Remove(t.sumFile()); err != nil && !errors.Is(err, os.ErrNotExist) {
				return diskError{err}
			}
			t.remote.tag, t.remote.size = "", 0
		}
		g.change(func(p *Progress) { p.Done -= came; p.Total += t.octets - before })
	}
}

// each does something for each of n, some at once, until one fails.
func (p *puller) each(ctx context.Context, n int, do func(ctx context.Context, i int) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	next := make(chan int)
	var wait sync.WaitGroup
	var once sync.Once
	var first error
	for range min(p.src.Parallel, n) {
		wait.Go(func() {
			for i := range next {
				if err := do(ctx, i); err != nil {
					once.Do(func() { first = err })
					cancel()
				}
			}
		})
	}
feed:
	for i := range n {
		select {
		case next <- i:
		case <-ctx.Done():
			break feed
		}
	}
	close(next)
	wait.Wait()
	if first == nil {
		first = ctx.Err()
	}
	return first
}

// pack makes the cube, and puts it in its place.
func (p *puller) pack(ctx context.Context, cycle time.Time, steps []int, all []*task, g *gauge) (Pulled, error) {
	var crops []string // and not whatever else a pull for other steps has left there
	for _, t := range all {
		crops = append(crops, t.crops)
	}
	source, err := archive.Open(ctx, crops, archive.Choice{Cycle: cycle})
	if err != nil {
		return Pulled{}, err
	}
	defer func() { _ = source.Close() }() // nothing was written to it
	holding, err := source.Contents()
	if err != nil {
		return Pulled{}, err
	}
	for _, step := range steps {
		if !slices.Contains(holding.Steps, time.Duration(step)*time.Hour) {
			return Pulled{}, fmt.Errorf("the step %d h has not what flights need in all members and levels", step)
		}
	}
	if n := p.members(); len(holding.Members) != n {
		return Pulled{}, fmt.Errorf("%d members came: want %d", len(holding.Members), n)
	}
	// What a pull that was killed while it packed has left beside.
	if err := p.sweep("." + p.src.Name + "-2*.cube.*"); err != nil {
		return Pulled{}, diskError{err}
	}
	name := filepath.Join(p.o.Folder, p.src.Name+"-"+stamp(cycle)+".cube")
	packed, err := source.Pack(ctx, p.o.Box, name, func(share float64) { g.change(func(p *Progress) { p.Packing = share }) })
	if err != nil {
		return Pulled{}, diskError{err}
	}
	link, err := p.point(name, cycle)
	if err != nil {
		return Pulled{}, diskError{err}
	}
	err = p.sweep(".pull-" + p.src.Name + "-2*")
	return Pulled{File: name, Link: link, Cycle: cycle, Holding: holding, Packed: packed}, err
}

// sweep removes what is left over in the folder under names of a pull's own.
func (p *puller) sweep(pattern string) error {
	old, err := filepath.Glob(filepath.Join(p.o.Folder, pattern))
	for _, o := range old {
		err = errors.Join(err, os.RemoveAll(o))
	}
	return err
}

// point makes the name that stays lead to a cube, unless it leads to a newer one.
func (p *puller) point(name string, cycle time.Time) (string, error) {
	link := linkOf(p.o.Folder, p.src.Name)
	info, err := os.Lstat(link)
	if err == nil && info.Mode()&os.ModeSymlink == 0 {
		p.note("%s is a file of its own, and was left alone.", link)
		return name, nil
	}
	kept, err := Kept(p.o.Folder)
	if err != nil {
		return "", err
	}
	for _, k := range kept {
		if k.Source == p.src.Name && k.Newest && k.Axes.Cycle.After(cycle) {
			p.note("%s still leads to the newer cycle of %s.", link, hour(k.Axes.Cycle))
			return link, nil
		}
	}
	beside := filepath.Join(p.o.Folder, "."+p.src.Name+".link")
	if err := os.Remove(beside); err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", err
	}
	if err := os.Symlink(filepath.Base(name), beside); err != nil {
		return "", err
	}
	return link, os.Rename(beside, link)
}

func linkOf(folder, source string) string { return filepath.Join(folder, source+".cube") }

// mostLeft is the longest that is believed of an estimate of the time left: the
// clock may have jumped.
const mostLeft = 48 * time.Hour

// gauge keeps the progress.
type gauge struct {
	mutex sync.Mutex
	p     Progress
	tell  func(Progress)
	now   func() time.Time
	start time.Time
	had   int64 // octets of Done that a pull before had brought
}

func (g *gauge) begin(total int64) {
	g.change(func(p *Progress) { p.Total = total })
	g.start = g.now()
}

// change changes the progress and tells it.
func (g *gauge) change(by func(*Progress)) {
	g.mutex.Lock()
	defer g.mutex.Unlock()
	by(&g.p)
	g.p.Left = -1
	if took := g.now().Sub(g.start); !g.start.IsZero() && took > time.Second && g.p.Done > g.had && g.p.Total >= g.p.Done {
		g.p.Left = time.Duration(float64(took) * float64(g.p.Total-g.p.Done) / float64(g.p.Done-g.had))
		if g.p.Left > mostLeft {
			g.p.Left = -1
		}
	}
	if g.tell != nil {
		g.tell(g.p)
	}
}
