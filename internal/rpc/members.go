package rpc

import (
	"math"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/report"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// members are a forecast's members as the schema has them; what they say of the
// classes of ground goes to the hazard, if there is one.
func members(m *report.Members, h *thistledownv1.Hazard) *thistledownv1.Members {
	for i, c := range h.GetClasses() {
		if e := m.Error[i]; !math.IsNaN(e) {
			c.MemberError = &e
		}
	}
	out := &thistledownv1.Members{SpreadM: m.Spread}
	for i, one := range m.All {
		member := &thistledownv1.Member{Number: uint32(i + 1), Flights: uint32(one.Flights), Landed: uint32(one.Landed)}
		if one.Landed > 0 {
			member.Mean = position(one.Mean)
			for c := range ground.Classes() {
				member.Classes = append(member.Classes, &thistledownv1.MemberShare{Class: c.String(), Share: one.On[len(member.Classes)]})
			}
		}
		out.Members = append(out.Members, member)
	}
	for _, g := range m.Split {
		group := &thistledownv1.MemberGroup{MostLikely: position(g.MostLikely), DistanceM: g.Distance, BearingDeg: g.Bearing}
		for _, n := range g.Numbers {
			group.Numbers = append(group.Numbers, uint32(n+1))
		}
		out.Groups = append(out.Groups, group)
	}
	return out
}
