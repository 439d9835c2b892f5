package rpc

import (
	"math"

	"github.com/paulmach/orb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/report"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// Response is an answer as the schema has it.
func Response(l report.Launch) *thistledownv1.FlyResponse {
	r := &thistledownv1.FlyResponse{
		Launch: &thistledownv1.Launch{
			PlanName: l.Plan, SiteName: l.Site, TimeZone: l.Zone.String(),
			Time: timestamppb.New(l.Time), Position: position(l.At),
			ElevationM: l.Elevation, ElevationFromForecast: l.ElevationFromForecast,
		},
		Forecast: &thistledownv1.ForecastUsed{
			Centre: uint32(l.Forecast.Centre), CentreName: report.CentreName(l.Forecast.Centre),
			Cycle:      timestamppb.New(l.Forecast.Cycle),
			FirstValid: timestamppb.New(l.Forecast.First), LastValid: timestamppb.New(l.Forecast.Last),
			LeadS: l.Time.Sub(l.Forecast.Cycle).Seconds(), LevelsPa: l.Forecast.Levels,
			GridLatitudeDeg: l.Forecast.Grid.DLat, GridLongitudeDeg: l.Forecast.Grid.DLon,
			Members: uint32(l.Forecast.Members),
		},
		Flown: &thistledownv1.Flown{
			Flights: uint32(l.Flights), Scrambles: uint32(l.Scrambles), Seed: l.Seed, Draws: l.Draws.String(),
			Version: l.Version, WindErrorMS: l.WindError, WindErrorGreatestMS: l.WindErrorGreatest, WindErrorDoubt: l.WindErrorDoubt,
			AscentRateMS: l.Ascent.Centre, AscentRateSpreadMS: l.Ascent.Spread,
			BurstHeightM: l.Burst.Centre, BurstHeightSpreadM: l.Burst.Spread,
			LandingSpeedMS: l.Fall.Centre, LandingSpeedSpreadMS: l.Fall.Spread,
			LaunchDelayS: l.Delay.Centre, LaunchDelaySpreadS: l.Delay.Spread,
		},
		Weather:  weather(l.Weather),
		Warnings: l.Warnings,
		Cautions: l.Cautions,
	}
	for _, e := range l.Endings {
		r.Endings = append(r.Endings, &thistledownv1.Ending{End: end(e.End), Share: probability(e.Share)})
	}
	for _, c := range l.Courses {
		r.Flown.Courses = append(r.Flown.Courses, &thistledownv1.Course{Course: c.Course.String(), Share: probability(c.Share)})
	}
	if u := l.Until; u != nil {
		r.Flown.Until = &thistledownv1.Until{HalfWidth: u.HalfWidth, Widest: u.Widest, Reached: u.Reached}
	}
	for _, c := range l.Contacts {
		r.Contacts = append(r.Contacts, &thistledownv1.Contact{AntennaM: c.Antenna, AboveGroundM: c.AboveGround})
	}
	r.Decision, r.Access, r.PeopleHit = decision(l.Verdict, l.Reasons), access(l.Access), l.PeopleHit
	r.Rules = checks(l.Rules)
	if l.Train != nil {
		r.Train = sized(*l.Train)
	}
	if l.Explanation != nil {
		r.Explanation = explanation(l.Explanation)
	}
	if l.Landing != nil {
		r.Landing = landed(l.Landing)
	}
	if l.Hazard != nil {
		r.Hazard = score(l.Hazard)
	}
	if l.Members != nil {
		r.Members = members(l.Members, r.Hazard)
	}
	return r
}

// ends are flight's ends in the schema.
var ends = [flight.Ends]thistledownv1.End{
	flight.Landed:      thistledownv1.End_END_LANDED,
	flight.OffGrid:     thistledownv1.End_END_OFF_GRID,
	flight.AboveTop:    thistledownv1.End_END_ABOVE_TOP,
	flight.BeforeFirst: thistledownv1.End_END_BEFORE_FIRST,
	flight.AfterLast:   thistledownv1.End_END_AFTER_LAST,
	flight.NearPole:    thistledownv1.End_END_NEAR_POLE,
	flight.Missing:     thistledownv1.End_END_MISSING,
}

func end(e flight.End) thistledownv1.End { return ends[e] }

func position(p geo.Point) *thistledownv1.Position {
	return &thistledownv1.Position{Latitude: p.Lat, Longitude: p.Lon}
}

func probability(p hazard.Probability) *thistledownv1.Probability {
	return &thistledownv1.Probability{Value: p.Value, Low: p.Low, High: p.High, Hits: uint32(p.Hits), Of: uint32(p.Of)}
}

func weather(readings []report.Reading) *thistledownv1.Weather {
	w := &thistledownv1.Weather{}
	for _, r := range readings {
		if !r.Known {
			continue
		}
		value := r.Value
		switch r.Kind {
		case report.WindSpeed:
			w.WindSpeedMS = &value
		case report.WindFrom:
			w.WindFromDeg = &value
		case report.Gust:
			w.GustMS = &value
		case report.Cloud:
			w.CloudPercent = &value
		case report.Precipitation:
			w.PrecipitationKgM2S = &value
		case report.Visibility:
			w.VisibilityM = &value
		case report.CAPE:
			w.CapeJKg = &value
		}
	}
	return w
}

func landed(l *report.Landing) *thistledownv1.Landing {
	out := &thistledownv1.Landing{
		MostLikely: position(l.MostLikely), Mean: position(l.Mean), Radius95M: l.Radius95,
		DistanceM: l.Distance, BearingDeg: l.Bearing,
		TimeP05: timestamppb.New(l.Early), TimeP50: timestamppb.New(l.Middle), TimeP95: timestamppb.New(l.Late),
		TimeAloftMeanS: l.Aloft, BurstHeightMeanM: l.Burst, LandingSpeedMeanMS: l.Speed,
	}
	for _, r := range l.Regions {
		out.Regions = append(out.Regions, region(r))
	}
	return out
}

func region(r landing.Region) *thistledownv1.Region {
	out := &thistledownv1.Region{Share: r.Share, AreaM2: r.Area}
	for _, polygon := range r.Shape {
		p := &thistledownv1.Polygon{}
		for _, ring := range polygon {
			p.Rings = append(p.Rings, &thistledownv1.Ring{Positions: positions(ring)})
		}
		out.Polygons = append(out.Polygons, p)
	}
	return out
}

func positions(ring orb.Ring) []*thistledownv1.Position {
	out := make([]*thistledownv1.Position, len(ring))
	for i, p := range ring {
		out[i] = &thistledownv1.Position{Latitude: p.Lat(), Longitude: p.Lon()}
	}
	return out
}

// causes are ensemble's causes in the schema.
var causes = map[ensemble.Cause]string{
	ensemble.AscentCause: "ascent", ensemble.BurstCause: "burst", ensemble.FallCause: "fall",
	ensemble.DelayCause: "delay", ensemble.MemberCause: "members", ensemble.WindCause: "wind_error", ensemble.BreakCause: "off_nominal",
	ensemble.DragCause: "envelope_drag", ensemble.DiameterCause: "burst_diameter", ensemble.CanopyCause: "canopy_drag",
	ensemble.GasCause: "gas", ensemble.MassCause: "scale", ensemble.RemainsCause: "hangs_on",
}

func explanation(e *ensemble.Explanation) *thistledownv1.Explanation {
	out := &thistledownv1.Explanation{Rows: uint32(e.Rows), Flights: uint32(e.Flights)}
	if !e.Sound() {
		return out
	}
	out.SpreadM = e.Spread
	for _, effect := range e.Effects {
		firstLow, firstHigh := ensemble.Interval(effect.First, effect.FirstError)
		totalLow, totalHigh := ensemble.Interval(effect.Total, effect.TotalError)
		out.Effects = append(out.Effects, &thistledownv1.Effect{
			Cause: causes[effect.Cause], First: effect.First, FirstLow: firstLow, FirstHigh: firstHigh,
			Total: effect.Total, TotalLow: totalLow, TotalHigh: totalHigh, WidthWithout: effect.WidthWithout(),
		})
	}
	return out
}

func score(s *hazard.Score) *thistledownv1.Hazard {
	h := &thistledownv1.Hazard{
		Score: s.Value, ScoreLow: s.Low, ScoreHigh: s.High, ScoreIfUnassessedWorst: s.Worst,
		NotLanded: probability(s.NotLanded), GreatestContributor: s.Greatest,
		OffNominal: probability(s.OffNominal), OffNominalPoints: s.OffNominalPoints,
	}
	for _, c := range s.Classes {
		h.Classes = append(h.Classes, &thistledownv1.ClassShare{
			Class: c.Class.String(), Severity: c.Severity, Points: c.Points,
			Landing: probability(c.Landing), NotAssessed: probability(c.NotAssessed),
		})
	}
	for _, c := range s.Crossings {
		if c.Probability.Hits > 0 {
			h.Crossings = append(h.Crossings, &thistledownv1.Crossing{
				Name: c.Name, Probability: probability(c.Probability), Points: c.Points, Kind: c.Kind, Severity: c.Severity,
				Floor: c.Floor.String(), Ceiling: c.Ceiling.String(), Up: probability(c.Up), Down: probability(c.Down),
			})
		}
	}
	for _, l := range s.Layers {
		if l.Landing.Hits == 0 {
			continue
		}
		share := &thistledownv1.LayerShare{Name: l.Name, Severity: l.Severity, Landing: probability(l.Landing), Points: l.Points}
		if l.Class != 0 {
			share.Class = l.Class.String()
		}
		h.Layers = append(h.Layers, share)
	}
	for _, p := range s.Parcels {
		h.Parcels = append(h.Parcels, &thistledownv1.ParcelShare{Owner: p.Owner, Layer: p.Layer, Landing: probability(p.Landing)})
	}
	return h
}

// decision is what the limits say; nil without any.
func decision(v launch.Verdict, reasons []launch.Reason) *thistledownv1.Decision {
	if v == launch.Unlimited {
		return nil
	}
	d := &thistledownv1.Decision{Verdict: v.String()}
	for _, r := range reasons {
		d.Reasons = append(d.Reasons, &thistledownv1.Reason{Verdict: r.Verdict.String(), What: r.What, Value: r.Value, Limit: r.Limit})
	}
	return d
}

// access is how hard it is to get there; nil where nothing landed.
func access(a *report.Access) *thistledownv1.Access {
	if a == nil {
		return nil
	}
	within := func(metres float64) *float64 {
		if math.IsInf(metres, 1) {
			return nil
		}
		return &metres
	}
	m := &thistledownv1.Access{DriveM: a.Drive, SlopeIsFine: a.Fine}
	if a.Sloped {
		m.SlopeDeg = &a.Slope
	}
	for _, r := range a.Roads {
		road := &thistledownv1.Road{Name: r.Name, MedianM: within(r.Median), NinetyPercentM: within(r.Ninety)}
		if r.Known {
			road.NearestM, road.BearingDeg = &r.Nearest, &r.Bearing
		}
		m.Roads = append(m.Roads, road)
	}
	return m
}
