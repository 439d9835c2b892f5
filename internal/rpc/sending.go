package rpc

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// sendStall is how long a reader may let a part of an answer lie before its call is
// ended: whoever reads slowly must not hold up those who wait for their turn.
const sendStall = 20 * time.Second

// sendAhead is how many parts of an answer may wait to be sent.
const sendAhead = 16

// sender sends the parts of an answer beside the work on the next ones.
type sender[T any] struct {
	parts  chan *T
	ended  chan error // one: how it went
	stop   context.CancelFunc
	stall  time.Duration
	sent   chan struct{} // after each part, if anybody waits
	broken error
}

// sending begins to send to a stream. stop ends the work once nobody listens.
func sending[T any](stream grpc.ServerStreamingServer[T], stop context.CancelFunc, stall time.Duration) *sender[T] {
	s := &sender[T]{parts: make(chan *T, sendAhead), ended: make(chan error, 1), sent: make(chan struct{}, 1), stop: stop, stall: stall}
	go func() {
		err := s.run(stream)
		if err != nil {
			stop()
		}
		s.ended <- err
	}()
	return s
}

// run sends until there is nothing more to send, or nobody who reads.
func (s *sender[T]) run(stream grpc.ServerStreamingServer[T]) error {
	for {
		select {
		case <-stream.Context().Done(): // also once its handler has ended
			return stream.Context().Err()
		case part, ok := <-s.parts:
			if !ok {
				return nil
			}
			if err := stream.Send(part); err != nil {
				return err
			}
		}
		select {
		case s.sent <- struct{}{}:
		default:
		}
	}
}

// send hands on a part, unless it went wrong already. It is for one goroutine at a time.
func (s *sender[T]) send(part *T) {
	if s.broken != nil {
		return
	}
	patience := time.NewTimer(s.stall)
	defer patience.Stop()
	select {
	case s.parts <- part:
		return
	case s.broken = <-s.ended:
	case <-patience.C:
		s.broken = tooSlow(s.stall)
	}
	s.stop()
}

// end waits until all is sent, and says what went wrong.
func (s *sender[T]) end() error {
	close(s.parts)
	for s.broken == nil {
		patience := time.NewTimer(s.stall)
		select {
		case s.broken = <-s.ended:
			patience.Stop()
			return s.broken
		case <-s.sent:
		case <-patience.C:
			s.broken = tooSlow(s.stall)
		}
		patience.Stop()
	}
	return s.broken
}

func tooSlow(stall time.Duration) error {
	return status.Error(codes.ResourceExhausted, fmt.Sprintf("answer: a part of it was not read for %v: want a caller that reads it", stall))
}
