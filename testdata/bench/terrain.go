package main

import (
	"context"
	"math"

	"crowline/dem/workers"
)

// fractal is ground made of nine octaves of value noise, a kilometre of
// relief over 20 km, the same for every run: posts 10 m apart by column and
// row.
func fractal(columns, rows int) []float32 {
	out := make([]float32, columns*rows)
	// nothing of it ends or fails
	_ = workers.Each(context.Background(), rows, 0, func(_, r int) error {
		line := out[r*columns : (r+1)*columns]
		size, amplitude := 2048.0, 500.0
		for octave := range uint32(10) {
			y := float64(r) / size
			j := math.Floor(y)
			fy := smooth(y - j)
			cell := math.Inf(-1)
			var a, b float64
			for c := range line {
				x := float64(c) / size
				i := math.Floor(x)
				if i != cell {
					cell = i
					a = mix(lattice(i, j, octave), lattice(i, j+1, octave), fy)
					b = mix(lattice(i+1, j, octave), lattice(i+1, j+1, octave), fy)
				}
				line[c] += float32(amplitude * mix(a, b, smooth(x-i)))
			}
			size /= 2
			amplitude *= 0.52
		}
		for c := range line {
			line[c] += 1000
		}
		return nil
	})
	return out
}

func smooth(t float64) float64    { return t * t * (3 - 2*t) }
func mix(a, b, t float64) float64 { return a + t*(b-a) }

// lattice is a value in [-1, 1] at whole coordinates: the 32-bit finaliser
// of MurmurHash3 over them.
func lattice(i, j float64, octave uint32) float64 {
	h := uint32(int32(i))*0x9E3779B1 ^ uint32(int32(j))*0x85EBCA77 ^ octave*0xC2B2AE3D
	h ^= h >> 16
	h *= 0x85EBCA6B
	h ^= h >> 13
	h *= 0xC2B2AE35
	h ^= h >> 16
	return float64(h)/math.MaxUint32*2 - 1
}
