// Command client plays a morning at the pool through a client that was generated
// from the published contract: it asks whether somebody may be enrolled, enrols
// them, calls the roll, and signs a skill. It reads where and about whom from the
// environment, and prints what it was answered, a line each.
package main

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"time"

	"github.com/google/uuid"
)

func main() {
	if err := play(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func id(name string) uuid.UUID { return uuid.MustParse(os.Getenv(name)) }

func play(ctx context.Context) error {
	api, err := NewClientWithResponses(os.Getenv("SERVER"),
		WithRequestEditorFn(func(_ context.Context, r *http.Request) error {
			r.Header.Set("Authorization", "Bearer "+os.Getenv("TOKEN"))
			return nil
		}))
	if err != nil {
		return err
	}
	me, err := api.GetMeWithResponse(ctx, &GetMeParams{})
	if err != nil {
		return err
	}
	if me.JSON200 == nil {
		return fmt.Errorf("me: %s", me.Body)
	}
	fmt.Println("I am", me.JSON200.Roles)
	if err := enrol(ctx, api); err != nil {
		return err
	}
	if err := callRoll(ctx, api); err != nil {
		return err
	}
	return sign(ctx, api)
}

func enrol(ctx context.Context, api *ClientWithResponses) error {
	dry := true
	body := EnrolmentAdd{PersonID: id("PERSON")}
	asked, err := api.CreateEnrolmentWithResponse(ctx, id("COURSE"), &CreateEnrolmentParams{DryRun: &dry}, body)
	if err != nil {
		return err
	}
	if asked.JSON200 == nil {
		return fmt.Errorf("ask: %s", asked.Body)
	}
	fmt.Println("may enrol:", asked.JSON200.Decision.Allowed, "done:", !asked.JSON200.Result.IsNull())
	done, err := api.CreateEnrolmentWithResponse(ctx, id("COURSE"), &CreateEnrolmentParams{}, body)
	if err != nil {
		return err
	}
	if done.JSON201 == nil {
		return fmt.Errorf("enrol: %s", done.Body)
	}
	made, err := done.JSON201.Result.Get()
	if err != nil {
		return err
	}
	fmt.Println("enrolled:", made.State)
	return nil
}

func callRoll(ctx context.Context, api *ClientWithResponses) error {
	list, err := api.ListParticipantsWithResponse(ctx, id("SESSION"), &ListParticipantsParams{})
	if err != nil {
		return err
	}
	if list.JSON200 == nil {
		return fmt.Errorf("participants: %s", list.Body)
	}
	at, err := time.Parse(time.RFC3339, os.Getenv("AT"))
	if err != nil {
		return err
	}
	var calls RollCalls
	for _, p := range list.JSON200.Items {
		calls.Items = append(calls.Items,
			RollCall{ID: uuid.New(), ParticipantID: &p.ID, Attendance: RollCallAttendancePresent,
				WitnessedAt: at})
	}
	called, err := api.RecordRollCallsWithResponse(ctx, id("SESSION"), calls)
	if err != nil {
		return err
	}
	if called.JSON200 == nil {
		return fmt.Errorf("roll call: %s", called.Body)
	}
	for _, r := range called.JSON200.Items {
		fmt.Println("roll call:", r.Status)
	}
	return nil
}

func sign(ctx context.Context, api *ClientWithResponses) error {
	wish := SignOffs{Items: []SignOffAdd{{ID: uuid.New(), EnrolmentID: id("ENROLMENT"), Skill: "swim"}}}
	signed, err := api.CreateSignOffsWithResponse(ctx, id("SESSION"), &CreateSignOffsParams{}, wish)
	if err != nil {
		return err
	}
	if signed.JSON200 == nil {
		return fmt.Errorf("sign: %s", signed.Body)
	}
	results, err := signed.JSON200.Result.Get()
	if err != nil {
		return err
	}
	fmt.Println("signed:", signed.JSON200.Decision.Allowed, results.Items[0].Status)
	return nil
}
