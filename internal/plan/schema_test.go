package plan_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"buf.build/go/protovalidate"
	"buf.build/go/protoyaml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/plan"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// known are the rules that this package can put in words, by the kind of rule.
var known = map[protoreflect.Name][]protoreflect.Name{
	"string":    {"min_len", "max_len", "in"},
	"repeated":  {"max_items", "items"},
	"timestamp": {"gte", "lt"},
	"double":    {"gte", "lte"},
	"uint32":    {"gte", "lte"},
}

// free are the fields that need no rule, with the reason.
var free = map[protoreflect.FullName]string{
	"thistledown.v1.Sampling.seed": "every number of 64 bits is a seed",
}

// quantityLen is the max_len that marks a field as a quantity.
const quantityLen = 40

// A new field without a rule, or with one that a fault could not tell of, fails
// here; so does a quantity that is not in the table of TestQuantityLimits.
func TestEveryFieldHasARule(t *testing.T) {
	tabled := map[protoreflect.FullName]bool{}
	for _, q := range allQuantities() {
		tabled[q.field] = true
	}
	seen := 0
	eachField((&thistledownv1.Plan{}).ProtoReflect().Descriptor(), func(fd protoreflect.FieldDescriptor) {
		seen++
		rules, err := protovalidate.ResolveFieldRules(fd)
		require.NoError(t, err)
		nested := fd.Message() != nil && fd.Message().FullName() != "google.protobuf.Timestamp" && !fd.IsList()
		if nested || fd.Kind() == protoreflect.BoolKind || free[fd.FullName()] != "" {
			return
		}
		require.NotNil(t, rules, "%s has no rule", fd.FullName())
		spoken(t, fd, rules)
		if fd.IsList() && fd.Message() == nil {
			assert.NotNil(t, rules.GetRepeated().GetItems(), "%s: its items have no rule", fd.FullName())
		}
		isQuantity := rules.GetString().GetMaxLen() == quantityLen
		assert.Equal(t, isQuantity, tabled[fd.FullName()], "%s: a quantity, and in the table of quantities", fd.FullName())
	})
	assert.Greater(t, seen, 40, "fields walked")
}

// spoken checks that each rule of a field is one that this package knows.
func spoken(t *testing.T, fd protoreflect.FieldDescriptor, rules *validate.FieldRules) {
	t.Helper()
	m := rules.ProtoReflect()
	kind := m.WhichOneof(m.Descriptor().Oneofs().ByName("type"))
	require.NotNil(t, kind, "%s has no rule for its values", fd.FullName())
	count := 0
	m.Get(kind).Message().Range(func(rule protoreflect.FieldDescriptor, _ protoreflect.Value) bool {
		count++
		assert.Contains(t, known[kind.Name()], rule.Name(), "%s: rule %s.%s", fd.FullName(), kind.Name(), rule.Name())
		return true
	})
	assert.Positive(t, count, "%s: rule %s is empty", fd.FullName(), kind.Name())
	if items := rules.GetRepeated().GetItems(); items != nil {
		spoken(t, fd, items)
	}
}

// eachField visits the fields of a message and of those in it.
func eachField(m protoreflect.MessageDescriptor, visit func(protoreflect.FieldDescriptor)) {
	for i := range m.Fields().Len() {
		fd := m.Fields().Get(i)
		visit(fd)
		if fd.Message() != nil && fd.Message().FullName() != "google.protobuf.Timestamp" {
			eachField(fd.Message(), visit)
		}
	}
}

// eachMessage visits a message and those in it.
func eachMessage(m protoreflect.MessageDescriptor, visit func(protoreflect.MessageDescriptor)) {
	visit(m)
	eachField(m, func(fd protoreflect.FieldDescriptor) {
		if fd.Message() != nil {
			visit(fd.Message())
		}
	})
}

// breach is one way to break one rule.
type breach struct {
	path, rule string
	// want must be in the fault.
	want string
	do   func(m protoreflect.Message)
	// field is that of the rule.
	field protoreflect.FullName
}

// Each rule in the schema is broken in turn, in the message and in YAML, and
// the one fault that follows names the field and the limit.
func TestEveryRuleBites(t *testing.T) {
	// A train is measured or weighed, so that no one plan says everything, and a
	// legend has a name or codes.
	broken := map[protoreflect.FullName]bool{}
	total := 0
	for _, text := range [...]string{full, grounded, weighed, sought, ruled, ruledByMass} {
		base, _, err := plan.Read("p.yaml", []byte(text), nil)
		require.NoError(t, err)
		total += everyRuleBites(t, base, broken)
	}
	t.Logf("%d ways to break a rule", total)
	assert.GreaterOrEqual(t, total, 480, "ways to break a rule")
	eachField((&thistledownv1.Plan{}).ProtoReflect().Descriptor(), func(fd protoreflect.FieldDescriptor) {
		if rules, err := protovalidate.ResolveFieldRules(fd); assert.NoError(t, err) && rules != nil {
			assert.True(t, broken[fd.FullName()], "%s: no rule of it is broken in any plan", fd.FullName())
		}
	})
}

// everyRuleBites breaks each rule of what base has, marks the fields whose
// rules it broke, and counts.
func everyRuleBites(t *testing.T, base *thistledownv1.Plan, broken map[protoreflect.FullName]bool) int {
	t.Helper()
	all := breaches(base.ProtoReflect(), "", func(m protoreflect.Message) protoreflect.Message { return m })
	for _, b := range all {
		broken[b.field] = true
		t.Run(b.path+" "+b.rule, func(t *testing.T) {
			m, ok := proto.Clone(base).(*thistledownv1.Plan)
			require.True(t, ok)
			b.do(m.ProtoReflect())
			_, err := plan.Check(m)
			var found plan.Faults
			require.ErrorAs(t, err, &found)
			require.Len(t, found, 1, "Check: %v", err)
			assert.Equal(t, b.path, found[0].Field)
			assert.Contains(t, found[0].Want, b.want)
			assert.Empty(t, found[0].File)
			assert.Zero(t, found[0].Line)

			text, err := protoyaml.Marshal(m)
			require.NoError(t, err)
			inFile := faults(t, string(text))
			require.Len(t, inFile, 1, "Read: %v", inFile)
			assert.Equal(t, found[0].Field, inFile[0].Field)
			assert.Contains(t, inFile[0].Want, b.want)
			assert.Positive(t, inFile[0].Line)
		})
	}
	return len(all)
}

// breaches lists the ways to break the rules of the fields of m; into finds m's
// twin in a clone of the plan.
func breaches(m protoreflect.Message, path string, into func(protoreflect.Message) protoreflect.Message) []breach {
	var all []breach
	for i := range m.Descriptor().Fields().Len() {
		fd := m.Descriptor().Fields().Get(i)
		sub := strings.TrimPrefix(path+"."+string(fd.Name()), ".")
		rules, err := protovalidate.ResolveFieldRules(fd)
		if err != nil {
			panic(err)
		}
		add := func(path, rule, want string, do func(m protoreflect.Message)) {
			all = append(all, breach{path, rule, want, func(plan protoreflect.Message) { do(into(plan)) }, fd.FullName()})
		}
		put := func(rule, want string, v protoreflect.Value) {
			add(sub, rule, want, func(m protoreflect.Message) { m.Set(fd, v) })
		}
		if !m.Has(fd) && strings.Contains(path, "[1]") {
			continue // said otherwise there: a charge for an energy
		}
		if rules.GetRequired() {
			add(sub, "required", "", func(m protoreflect.Message) { m.Clear(fd) })
		}
		valueBreaches(rules, put)
		switch {
		case !m.Has(fd) && (fd.IsList() || fd.Message() != nil):
			continue
		case fd.IsList():
			list := rules.GetRepeated()
			add(sub, "max_items", fmt.Sprintf("at most %d items", list.GetMaxItems()), func(m protoreflect.Message) {
				items := m.Mutable(fd).List()
				for uint64(items.Len()) <= list.GetMaxItems() {
					items.Append(items.Get(0))
				}
			})
			valueBreaches(list.GetItems(), func(rule, want string, v protoreflect.Value) {
				add(sub+"[0]", rule, want, func(m protoreflect.Message) { m.Mutable(fd).List().Set(0, v) })
			})
			if fd.Message() != nil {
				for k := range m.Get(fd).List().Len() {
					all = append(all, breaches(m.Get(fd).List().Get(k).Message(), fmt.Sprintf("%s[%d]", sub, k), func(plan protoreflect.Message) protoreflect.Message {
						return into(plan).Mutable(fd).List().Get(k).Message()
					})...)
				}
			}
		case fd.Message() != nil && fd.Message().FullName() != "google.protobuf.Timestamp":
			all = append(all, breaches(m.Get(fd).Message(), sub, func(plan protoreflect.Message) protoreflect.Message {
				return into(plan).Mutable(fd).Message()
			})...)
		}
	}
	return all
}

// valueBreaches lists values that break a rule, just beyond where it can be.
func valueBreaches(rules *validate.FieldRules, put func(rule, want string, v protoreflect.Value)) {
	if s := rules.GetString(); s != nil {
		if s.GetMaxLen() > 0 {
			put("max_len", fmt.Sprintf("%d characters", s.GetMaxLen()), protoreflect.ValueOfString(strings.Repeat("x", int(s.GetMaxLen())+1)))
		}
		if s.GetMinLen() > 0 {
			put("min_len", fmt.Sprintf("%d to ", s.GetMinLen()), protoreflect.ValueOfString(""))
		}
		if len(s.GetIn()) > 0 {
			put("in", s.GetIn()[0], protoreflect.ValueOfString("none of them"))
		}
	}
	if d := rules.GetDouble(); d != nil {
		want := fmt.Sprintf("%g to %g", d.GetGte(), d.GetLte())
		put("gte", want, protoreflect.ValueOfFloat64(math.Nextafter(d.GetGte(), math.Inf(-1))))
		put("lte", want, protoreflect.ValueOfFloat64(math.Nextafter(d.GetLte(), math.Inf(1))))
		put("not a number", want, protoreflect.ValueOfFloat64(math.NaN()))
		put("infinite", want, protoreflect.ValueOfFloat64(math.Inf(1)))
	}
	if u := rules.GetUint32(); u != nil {
		want := fmt.Sprintf("%d to %d", u.GetGte(), u.GetLte())
		put("gte", want, protoreflect.ValueOfUint32(u.GetGte()-1))
		put("lte", want, protoreflect.ValueOfUint32(u.GetLte()+1))
	}
	if ts := rules.GetTimestamp(); ts != nil {
		before := &timestamppb.Timestamp{Seconds: ts.GetGte().GetSeconds() - 1, Nanos: 999999999}
		put("gte", "from 1950-01-01T00:00:00Z", protoreflect.ValueOfMessage(before.ProtoReflect()))
		put("lt", "before 2200-01-01T00:00:00Z", protoreflect.ValueOfMessage(ts.GetLt().ProtoReflect()))
	}
}

// The limits themselves are allowed, and so is a plan just within them.
func TestLimitsAreAllowed(t *testing.T) {
	tests := []struct{ name, set string }{
		{"south pole", "site.latitude=-90"},
		{"north pole", "site.latitude=90"},
		{"date line from the west", "site.longitude=-180"},
		{"date line from the east", "site.longitude=180"},
		{"a name of 120 characters", "name=" + strings.Repeat("é", 120)},
		{"first launch", "launch=1950-01-01T00:00:00Z"},
		{"last launch", "launch=2199-12-31T23:59:59.999999999Z"},
		{"all the Earth", "ground.layers[0].covers=[{south: -90, north: 90, west: -180, east: 180}]"},
		{"severity 0", "ground.severities.water=0"},
		{"severity 1", "ground.severities.water=1"},
		{"fewest scrambles", "sampling.scrambles=2"},
		{"most scrambles", "sampling.scrambles=64"},
		{"fewest in a scramble", "sampling.flights_per_scramble=8"},
		{"most flights", "sampling={scrambles: 4, flights_per_scramble: 65536}"},
		{"most files", "forecast.files=[" + strings.Repeat("f,", 1000) + "]"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) { read(t, full, test.set) })
	}
	// A name's limit is in characters, of up to four octets each.
	p := read(t, weighed, "train.parts[0].name="+strings.Repeat("🎈", 60), "train.parts[0].count=1000", "train.parts[0].mass=100 g")
	require.NoError(t, p.Train.Parts[0].Check())
	read(t, weighed, "train.gas.helium=50 %")
	read(t, weighed, "train.gas.helium=60 %", "train.gas.hydrogen=40 %", "train.gas.cylinders=")
}

// A time that is none, which only a message can hold.
func TestCheckLaunchNoTime(t *testing.T) {
	m, _, err := plan.Read("p.yaml", []byte(full), nil)
	require.NoError(t, err)
	m.Launch.Nanos = -5
	_, err = plan.Check(m)
	require.EqualError(t, err, "launch: 1490166000 s -5 ns: "+wantTime)
}
