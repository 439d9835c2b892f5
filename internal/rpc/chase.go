package rpc

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// Narrow says where a flight under way comes down.
func (s *service) Narrow(ctx context.Context, request *thistledownv1.NarrowRequest) (*thistledownv1.NarrowResponse, error) {
	p, t, err := s.tracked(request.GetPlan(), request.GetTrack())
	if err != nil {
		return nil, err
	}
	c, err := s.narrow(ctx, p, t)
	if err != nil {
		return nil, err
	}
	return NarrowResponse(c), nil
}

// tracked are a plan and a track.
func (s *service) tracked(m *thistledownv1.Plan, track *thistledownv1.Track) (plan.Plan, plan.Track, error) {
	p, err := s.plan(m)
	if err != nil {
		return plan.Plan{}, plan.Track{}, err
	}
	t, err := checkTrack(track)
	return p, t, err
}

// checkTrack is plan.CheckTrack, its faults those of a request's track.
func checkTrack(m *thistledownv1.Track) (plan.Track, error) {
	t, err := plan.CheckTrack(m)
	var faults plan.Faults
	if !errors.As(err, &faults) {
		return t, err
	}
	for i := range faults {
		faults[i].Field = strings.TrimSuffix("track."+faults[i].Field, ".")
	}
	return t, invalid("", faults)
}

func (s *service) narrow(ctx context.Context, p plan.Plan, t plan.Track) (c report.Chase, err error) {
	o := mission.Options{Version: s.planner.Version}
	err = s.inTurn(ctx, p, o, func(w mission.World) error {
		c, err = mission.Narrow(ctx, w, p, t, o)
		return err
	})
	return c, err
}

// Search says where to look for a payload.
func (s *service) Search(ctx context.Context, request *thistledownv1.SearchRequest) (*thistledownv1.SearchResponse, error) {
	p, t, err := s.tracked(request.GetPlan(), request.GetTrack())
	if err != nil {
		return nil, err
	}
	side, err := plan.CheckCell(request.GetCell())
	var faults plan.Faults
	if errors.As(err, &faults) {
		return nil, invalid("", faults)
	} else if err != nil {
		return nil, err
	}
	o := mission.Options{Version: s.planner.Version}
	var found report.Search
	if err := s.inTurn(ctx, p, o, func(w mission.World) error {
		found, err = mission.Search(ctx, w, p, t, side, o)
		return err
	}); err != nil {
		return nil, err
	}
	return SearchResponse(found), nil
}

// FollowFlight answers each message of fixes by what is known with it.
func (s *service) FollowFlight(stream grpc.BidiStreamingServer[thistledownv1.FollowFlightRequest, thistledownv1.FollowFlightResponse]) error {
	var p *plan.Plan
	var all plan.Track
	for {
		m, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		switch part := m.GetPart().(type) {
		case *thistledownv1.FollowFlightRequest_Plan:
			if p != nil {
				return refused("plan", "plan: a second one: want fixes after the first; another flight is another call")
			}
			read, err := s.plan(part.Plan)
			if err != nil {
				return err
			}
			p = &read
			continue
		case *thistledownv1.FollowFlightRequest_Track:
			if p == nil {
				return refused("plan", "plan: none before the first fix: want the plan as the first message")
			}
			t, err := checkTrack(part.Track)
			if err != nil {
				return err
			}
			all.Fixes, all.Searched = append(all.Fixes, t.Fixes...), append(all.Searched, t.Searched...)
		default:
			return refused("part", "part: neither a plan nor fixes: want one of them in each message")
		}
		if len(all.Fixes) > plan.MaxFixes {
			return refused("track.fixes", fmt.Sprintf("track.fixes: more than %d of one flight: want a new call with fewer", plan.MaxFixes))
		}
		if len(all.Searched) > maxSearched {
			return refused("track.searched", fmt.Sprintf("track.searched: more than %d places: want a new call with fewer", maxSearched))
		}
		answer, err := s.followed(stream.Context(), *p, all)
		if err != nil {
			return err
		}
		if err := stream.Send(&thistledownv1.FollowFlightResponse{Narrowed: answer}); err != nil {
			return err
		}
	}
}

// maxSearched bounds the places that one flight was looked for at, as the schema does.
const maxSearched = 64

// followed is what is known with all fixes so far; where none is believed, those alone.
func (s *service) followed(ctx context.Context, p plan.Plan, t plan.Track) (*thistledownv1.NarrowResponse, error) {
	c, err := s.narrow(ctx, p, t)
	var fault *mission.TrackFault
	if errors.As(err, &fault) && len(fault.Rejected) > 0 {
		return &thistledownv1.NarrowResponse{Rejected: rejected(fault.Rejected)}, nil
	}
	if err != nil {
		return nil, err
	}
	return NarrowResponse(c), nil
}

// phases are ensemble's in the schema.
var phases = [...]thistledownv1.Phase{
	ensemble.Climbing: thistledownv1.Phase_PHASE_CLIMBING,
	ensemble.Hanging:  thistledownv1.Phase_PHASE_HANGING,
	ensemble.Falling:  thistledownv1.Phase_PHASE_FALLING,
	ensemble.Down:     thistledownv1.Phase_PHASE_DOWN,
}

// NarrowResponse is what is known of a flight as the schema has it.
func NarrowResponse(c report.Chase) *thistledownv1.NarrowResponse {
	last := c.Last()
	return &thistledownv1.NarrowResponse{
		Phase: phases[c.Phase], Believed: uint32(len(c.Seen)), Rejected: rejected(c.Rejected), //nolint:gosec // at most plan.MaxFixes
		Last: &thistledownv1.SeenAt{
			Number: uint32(last.Number), Time: timestamppb.New(last.Time), Position: position(last.At), HeightM: last.Height, //nolint:gosec // likewise
		},
		AscentRateMS: c.Rise.Centre, AscentRateSpreadMS: c.Rise.Spread,
		BurstHeightM: c.Burst.Centre, BurstHeightSpreadM: c.Burst.Spread,
		LandingSpeedMS: c.Fall.Centre, LandingSpeedSpreadMS: c.Fall.Spread,
		DistanceM: c.Distance, BearingDeg: c.Bearing, MemberShares: c.Members,
		Answer: Response(c.Launch),
	}
}

func rejected(fixes []report.Unseen) []*thistledownv1.RejectedFix {
	var all []*thistledownv1.RejectedFix
	for _, f := range fixes {
		all = append(all, &thistledownv1.RejectedFix{Number: uint32(f.Number), Why: f.Why}) //nolint:gosec // at most plan.MaxFixes
	}
	return all
}

// SearchResponse is where to look as the schema has it.
func SearchResponse(s report.Search) *thistledownv1.SearchResponse {
	m := &thistledownv1.SearchResponse{Narrowed: NarrowResponse(s.Chase), CellM: s.Side, Searched: s.Searched}
	for _, c := range s.Cells {
		one := &thistledownv1.SearchCell{
			Middle: position(c.Middle), Share: c.Share, Contained: c.Contained, DistanceM: c.Distance, BearingDeg: c.Bearing, Owners: c.Owners,
		}
		for _, class := range c.On {
			one.Classes = append(one.Classes, class.String())
		}
		m.Cells = append(m.Cells, one)
	}
	return m
}
