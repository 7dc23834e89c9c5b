module onward

go 1.26.8
