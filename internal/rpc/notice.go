package rpc

import (
	"bytes"
	"context"
	"math"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rules"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// WriteNotice flies a plan's launch and writes what is to be told at a stage.
func (s *service) WriteNotice(ctx context.Context, request *thistledownv1.WriteNoticeRequest) (*thistledownv1.WriteNoticeResponse, error) {
	of, err := noticeOf(request)
	if err != nil {
		return nil, err
	}
	p, err := s.plan(request.GetPlan())
	if err != nil {
		return nil, err
	}
	if err := p.Named(1); err != nil {
		return nil, err
	}
	o := mission.Options{Version: s.planner.Version}
	var told report.Told
	if err := s.inTurn(ctx, p, o, func(w mission.World) error {
		told, _, err = mission.NoticeFlown(ctx, w, p, of, o)
		return err
	}); err != nil {
		return nil, err
	}
	m, err := NoticeResponse(told)
	if err != nil {
		return nil, err
	}
	return m, nil
}

// noticeOf is what a request asks for beside its plan.
func noticeOf(request *thistledownv1.WriteNoticeRequest) (mission.NoticeOf, error) {
	of := mission.NoticeOf{Stage: rules.Stage(request.GetStage()), Height: math.NaN()}
	if err := of.Check(); err != nil {
		return of, refused("stage", err.Error())
	}
	if at := request.GetAt(); at != nil {
		if at.CheckValid() != nil || at.AsTime().Year() < 1950 || at.AsTime().Year() >= 2200 {
			return of, refused("at", "at: want a time from 1950 to 2200")
		}
		of.Now = at.AsTime()
	}
	if (request.Latitude == nil) != (request.Longitude == nil) {
		return of, refused("latitude", "latitude: want it and longitude, or neither")
	}
	if request.Latitude != nil {
		if !(math.Abs(request.GetLatitude()) <= 90) {
			return of, refused("latitude", "latitude: want -90 to 90")
		}
		if !(math.Abs(request.GetLongitude()) <= 180) {
			return of, refused("longitude", "longitude: want -180 to 180")
		}
		of.Position = &geo.Point{Lat: request.GetLatitude(), Lon: request.GetLongitude()}
	}
	if request.HeightM != nil {
		of.Height = request.GetHeightM()
		if !(of.Height >= -500 && of.Height <= 60e3) {
			return of, refused("height_m", "height_m: want -500 to 60000")
		}
	}
	return of, nil
}

// NoticeResponse is what is told as the schema has it.
func NoticeResponse(told report.Told) (*thistledownv1.WriteNoticeResponse, error) {
	var text bytes.Buffer
	if err := report.WriteNotice(&text, told); err != nil {
		return nil, err
	}
	n := report.Compose(told)
	m := &thistledownv1.WriteNoticeResponse{Text: text.String(), Notam: n.NOTAM}
	for _, one := range n.Notices {
		out := &thistledownv1.Notice{
			Paragraph: one.Source.Paragraph, Date: one.Source.Date, Status: one.Source.Status(), Binds: one.Binds.String(), To: one.To, When: one.When,
		}
		for _, i := range one.Items {
			out.Items = append(out.Items, &thistledownv1.NoticeItem{Number: i.Number, What: i.What, Value: i.Value, Blank: i.Blank})
		}
		m.Notices = append(m.Notices, out)
	}
	for _, a := range n.Aerodromes {
		field := &thistledownv1.AirfieldNear{
			Name: a.Name, Telephone: a.Telephone, Size: a.Size, Latitude: a.At.Lat, Longitude: a.At.Lon,
			FromSiteM: a.Site.Distance, FromSiteDeg: a.Site.Bearing, FromPathM: a.Path.Distance, FromPathDeg: a.Path.Bearing,
		}
		if told.Flown.Landed { // else there is none, and JSON has no infinity
			field.FromLandingM, field.FromLandingDeg = &a.Landing.Distance, &a.Landing.Bearing
		}
		m.Airfields = append(m.Airfields, field)
	}
	return m, nil
}
