package plan

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"example.org/thistledown/internal/balloon"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// cylinders is the rack.
func (d *draft) cylinders(m *thistledownv1.Gas, g balloon.LiftingGas) []Cylinder {
	const path = "train.gas.cylinders"
	if len(m.GetCylinders()) > 0 && g.Helium > 0 && g.Hydrogen > 0 && d.sound("train.gas") {
		d.refuse(path, "cylinders of a mixture", "one gas, as a mixture comes from cylinders of both")
	}
	var all []Cylinder
	priced, currency, total := 0, "", 0
	for i, c := range m.GetCylinders() {
		at := item(path, i)
		one := Cylinder{
			Water:       d.quantity(at+".size", c.GetSize(), cylinderSizeSpec).Centre,
			Gauge:       d.gauge(at+".gauge", c.GetGauge(), g),
			Temperature: math.NaN(), Count: int(or(c.Count, 1)),
		}
		if text := c.GetTemperature(); text != "" {
			one.Temperature = d.quantity(at+".temperature", text, cylinderTemperatureSpec).Centre
		}
		if text := c.GetPrice(); text != "" {
			priced++
			one.Price = d.price(at+".price", text)
			if currency == "" {
				currency = one.Price.Currency
			} else if one.Price.Currency != "" && one.Price.Currency != currency {
				d.refuse(at+".price", quote(text), "the currency of the cylinders before, "+currency)
			}
		}
		total += one.Count
		all = append(all, one)
	}
	if priced > 0 && priced < len(all) && d.sound(path) {
		d.refuse(path, fmt.Sprintf("a price for %d of %d", priced, len(all)), "a price for each line or for none")
	}
	if total > balloon.MaxCylinders && d.sound(path) {
		d.refuse(path, fmt.Sprintf("%d cylinders", total), fmt.Sprintf("at most %d", balloon.MaxCylinders))
	}
	return all
}

// gauge reads what a cylinder's gauge shows.
func (d *draft) gauge(path, text string, g balloon.LiftingGas) balloon.GaugePressure {
	p := d.quantity(path, text, gaugeSpec).Centre
	if p > highestHelium && g.Hydrogen == 0 && d.sound(path) {
		unit := gaugeSpec.unitOf(text)
		d.refuse(path, quote(text), "at most "+gaugeSpec.tell(highestHelium, unit, math.Floor)+" of helium, beyond which its compressibility is not known here")
	}
	return balloon.GaugePressure(p)
}

// highestHelium is what a gauge may read, Pa: balloon.CylinderHelium.MaxPressure
// less the air around, which is less than 2 bar.
const highestHelium = 298e5

// currencyForm is how a currency is written.
var currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)

// price reads an amount of money: "85 EUR".
func (d *draft) price(path, text string) balloon.Price {
	if !d.sound(path) {
		return balloon.Price{}
	}
	amount, currency, _ := strings.Cut(strings.TrimSpace(text), " ")
	v, err := strconv.ParseFloat(amount, 64)
	p := balloon.Price{Amount: v, Currency: strings.TrimSpace(currency)}
	if err != nil || !decimal.MatchString(amount) || !currencyForm.MatchString(p.Currency) || p.Check() != nil {
		d.refuse(path, quote(text), `a number of 0 or more and a currency's three capital letters, such as "85 EUR"`)
		return balloon.Price{}
	}
	return p
}
