from scheduler.cli import main

main()
